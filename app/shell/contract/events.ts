import type { Edit } from '../../../core/session/edit.ts';
import type { Session } from '../../../core/session/schema.ts';
import type { DeskView, FaultView, TakeFacts } from './desk-view.ts';

/**
 * What the desk tells its screens, in order. `edited` carries the edit itself, so that a page applies it as the desk did;
 * `by` and `seq` name the call that asked for it (a page has applied its own already). Everything else replaces parts.
 */
export type DeskEvent =
  | { readonly kind: 'opened'; readonly view: DeskView }
  | { readonly kind: 'closed' }
  | {
      readonly kind: 'edited';
      readonly revision: number;
      readonly edit: Edit;
      readonly by: string | null;
      readonly seq: number;
      readonly undoLabel: string | null;
      readonly redoLabel: string | null;
    }
  | {
      readonly kind: 'replaced';
      readonly revision: number;
      readonly session: Session;
      readonly undoLabel: string | null;
      readonly redoLabel: string | null;
    }
  | { readonly kind: 'take'; readonly takeId: string; readonly facts: TakeFacts | null }
  | {
      readonly kind: 'parts';
      readonly parts: Partial<
        Pick<
          DeskView,
          | 'guide'
          | 'blend'
          | 'steps'
          | 'jobs'
          | 'render'
          | 'saved'
          | 'madeGuide'
          | 'madePicture'
          | 'trials'
          | 'intonation'
        >
      >;
    }
  | { readonly kind: 'fault'; readonly fault: FaultView }
  /** The window's menu asks the page for something. */
  | { readonly kind: 'menu'; readonly command: MenuCommand };

export type MenuCommand =
  | 'newSession'
  | 'openSession'
  | 'addClips'
  | 'closeSession'
  | 'undo'
  | 'redo'
  | 'render'
  | 'help'
  | 'theme';
