import { existsSync } from 'node:fs';
import type { Session } from '../../../core/session/schema.ts';
import type { RenderView } from '../../shell/contract/desk-view.ts';
import type { Desk } from '../desk.ts';
import { planOf } from '../mix-plan.ts';
import { mixRequest } from '../render-mix.ts';
import type { MixState } from './mix-work.ts';

/** How a mix that has to be made is told of. */
export interface MixTelling {
  readonly signal: AbortSignal;
  /** It has to be made. */
  readonly onBegin: () => void;
  readonly onProgress: (fraction: number) => void;
}

/** The mix as a file: the newest render's where it is of the session as it is now, else made at `target`. Gives its path. */
export async function mixFile(
  { desk, render }: { readonly desk: Desk; render(): RenderView | null },
  session: Session,
  mix: MixState,
  target: string,
  { signal, onBegin, onProgress }: MixTelling,
): Promise<string> {
  const newest = render();
  const made = newest?.current === true ? newest.files.find(({ what }) => what === 'mix')?.path : undefined;
  if (made !== undefined && existsSync(made)) return made;
  onBegin();
  const plan = planOf(session, mix.parts, { wave: 'pcm24', copy: null, stems: false });
  const request = { ...mixRequest(plan, `${target}.part`), target, format: 'pcm24' } as const;
  await desk.pool.run('mixdown', request, { signal, onProgress });
  return target;
}
