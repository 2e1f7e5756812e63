import type { CallInput } from '../../../app/shell/contract/calls.ts';
import { keep, kept } from '../../parts/kept.ts';

/** In which form the video is made. */
export type MakeChoices = Omit<CallInput<'renderPicture'>, 'folder'>;

const KEY = 'video-choices';

/** What is chosen as long as nobody chose anything. */
export const firstMake: MakeChoices = { container: 'mp4', speed: 'usual', cover: true };

/** The choices of the last video on this computer. */
export function keptMake(): MakeChoices {
  try {
    const raw: unknown = JSON.parse(kept(KEY) ?? '{}');
    if (typeof raw !== 'object' || raw === null) return firstMake;
    const { container, speed, cover } = raw as Record<string, unknown>;
    return {
      container: container === 'mkv' ? 'mkv' : 'mp4',
      speed: speed === 'quick' || speed === 'careful' ? speed : 'usual',
      cover: typeof cover === 'boolean' ? cover : firstMake.cover,
    };
  } catch {
    return firstMake;
  }
}

/** Keeps the choices for the next time. */
export function keepMake(choices: MakeChoices): void {
  keep(KEY, JSON.stringify(choices));
}
