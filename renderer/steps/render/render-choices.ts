import { keep, kept } from '../../parts/kept.ts';
import type { RenderChoices } from './render-plan.ts';

const KEY = 'render-choices';

/** What is chosen as long as nobody chose anything. */
export const firstChoices: RenderChoices = { folder: null, wave: 'pcm24', copy: 'm4a', stems: false };

/** A target and a ceiling for a purpose. */
export interface Purpose {
  readonly name: string;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  readonly why: string;
}

/** What a mix is commonly made for. The last is the level of EBU R 128. */
export const purposes: readonly Purpose[] = [
  {
    name: 'To upload',
    targetLufs: -14,
    ceilingDbtp: -1,
    why: '−14 LUFS and −1 dBTP are common practice for music on the web: sites that level their music leave it nearly as it is.',
  },
  {
    name: 'Quieter, with more room',
    targetLufs: -18,
    ceilingDbtp: -2,
    why: 'Loud chords keep more of their force, because the limiter has nearly nothing to do. Listeners turn it up a little.',
  },
  {
    name: 'For broadcast',
    targetLufs: -23,
    ceilingDbtp: -1,
    why: '−23 LUFS and −1 dBTP are what European broadcasters ask for (EBU R 128).',
  },
];

/** The purpose whose numbers these are; undefined for numbers of the user's own. */
export function purposeOf(targetLufs: number, ceilingDbtp: number): Purpose | undefined {
  return purposes.find((one) => one.targetLufs === targetLufs && one.ceilingDbtp === ceilingDbtp);
}

/** The choices of the last render on this computer; the folder is not kept, it belongs to its session. */
export function keptChoices(): RenderChoices {
  try {
    const raw: unknown = JSON.parse(kept(KEY) ?? '{}');
    return typeof raw === 'object' && raw !== null ? readChoices(raw as Record<string, unknown>) : firstChoices;
  } catch {
    return firstChoices;
  }
}

/** Keeps the choices for the next time. */
export function keepChoices({ wave, copy, stems }: RenderChoices): void {
  keep(KEY, JSON.stringify({ wave, copy, stems }));
}

function readChoices(raw: Record<string, unknown>): RenderChoices {
  const { wave, copy, stems } = raw;
  return {
    folder: null,
    wave: wave === 'pcm16' || wave === 'float32' || wave === 'pcm24' ? wave : firstChoices.wave,
    copy: copy === null || copy === 'flac' || copy === 'mp3' || copy === 'm4a' ? copy : firstChoices.copy,
    stems: typeof stems === 'boolean' ? stems : firstChoices.stems,
  };
}
