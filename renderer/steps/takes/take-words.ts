import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { spotsBesideClap } from '../../../core/session/take-worth.ts';

const FULL_DBFS = -0.1;
const SOFT_DBFS = -30;

/** What is worth a look in a peak: at full scale, or so soft that the room comes near; null when neither. */
export function peakWords(peakDbfs: number | null): string | null {
  if (peakDbfs === null) return null;
  if (peakDbfs === Number.NEGATIVE_INFINITY) return 'no sound';
  if (peakDbfs >= FULL_DBFS) return 'no room left';
  return peakDbfs < SOFT_DBFS ? 'very soft' : null;
}

/** How often and how long the recorder cut waves off, beside the clap: "2 spots, 0.5 s"; "only the clap"; "none". */
export function clippedWords(facts: Pick<TakeFacts, 'clipped'>, clapSec?: number): string {
  const spots = spotsBesideClap(facts.clipped, clapSec);
  const count = spots.length;
  if (count === 0) return facts.clipped.length === 0 ? 'none' : 'only the clap';
  const sec = spots.reduce((sum, span) => sum + span.toSec - span.fromSec, 0);
  const long = sec < 0.05 ? `${Math.max(1, Math.round(1000 * sec))} ms` : `${sec.toFixed(1)} s`;
  return `${count} ${count === 1 ? 'spot' : 'spots'}, ${long}`;
}

/** What kind of file it is: "AAC, 48 kHz, one channel, picture". */
export function fileWords(facts: Pick<TakeFacts, 'codec' | 'rateHz' | 'channels' | 'hasPicture'>): string {
  const words: string[] = [];
  if (facts.codec !== '') words.push(codecName(facts.codec));
  if (facts.rateHz > 0) words.push(`${Number((facts.rateHz / 1000).toFixed(2))} kHz`);
  if (facts.channels > 0)
    words.push(facts.channels === 1 ? 'mono' : facts.channels === 2 ? 'stereo' : `${facts.channels} channels`);
  if (facts.hasPicture) words.push('picture');
  return words.join(', ');
}

/** The name of a codec as people write it. */
export function codecName(codec: string): string {
  const plain = codec.toLowerCase();
  if (plain.startsWith('pcm')) return 'PCM';
  if (plain === 'opus') return 'Opus';
  if (plain === 'vorbis') return 'Vorbis';
  return codec.toUpperCase();
}

/** A path's last part. */
export function fileName(path: string): string {
  return path.split(/[/\\]/).at(-1) ?? path;
}
