import type { Edit } from '../../../core/session/edit.ts';
import type { Session } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';

/**
 * Refuses an edit that brings in files: what may be read is decided where clips are added, not by a page. Throws
 * PartsongError 'bad-option'.
 */
export function refuseForeignClips({ guide, takes }: Session, edit: Edit): void {
  const known = new Set([...takes.map((take) => take.clip.path), guide?.clip.path]);
  for (const one of edit.kind === 'together' ? edit.edits : [edit]) {
    const clip = 'clip' in one ? one.clip : 'take' in one ? one.take.clip : null;
    if (clip !== null && !known.has(clip.path)) {
      throw new PartsongError(
        'bad-option',
        `${clip.path} is no clip of this session.`,
        'Add it as a clip first.',
        clip.path,
      );
    }
  }
}

/** What an edit met that cannot be done. */
export function refused(error: unknown): unknown {
  if (!(error instanceof RangeError)) return error;
  return new PartsongError(
    'bad-option',
    `The session cannot be changed so: ${error.message}.`,
    'It was left as it is; try again.',
    undefined,
    { cause: error },
  );
}

/** A render waited for work that the user stopped. */
export function workStopped(): PartsongError {
  return new PartsongError(
    'bad-option',
    'The mix was not made, because work that it waited for was stopped.',
    'Make it again when you like; what was stopped goes on then.',
  );
}

/** Nothing can be mixed. */
export function notReady(): PartsongError {
  return new PartsongError(
    'bad-option',
    'There is no take that can be mixed.',
    'Look at the steps before this one; their sentences say what is missing.',
  );
}
