import type { NoiseLine } from '../noise/profile.ts';
import { type CheckFinding, finding, tenth } from './check-finding.ts';
import type { CheckInput } from './check-input.ts';
import type { Levels } from './check-levels.ts';
import { humsAlone } from './steady-tones.ts';

/** Tones louder than this beside the music are worth mending, dB; as the other bounds of the check, see check-findings.ts. */
const LOUD_HUM_DB = -32;
/** So many steady tones are named at most. */
const MOST_NAMED = 4;

/** Hum and whistles of the room. */
export function toneFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  const weight = (db: number): 'mend' | 'know' => (db - levels.musicDbfs > LOUD_HUM_DB ? 'mend' : 'know');
  const hums = input.lines.filter((line) => line.hum || humsAlone(line.hz));
  if (hums.length > 0) {
    const level = sumDb(hums);
    const areSeveral = input.humHz === null && hums.length > 1;
    found.push(
      finding(
        'hum',
        weight(level),
        `There ${areSeveral ? 'are' : 'is'} ${humWords(input.humHz, hums)}, ${tenth(level)} dBFS.`,
        'Move away from chargers, lamps, amplifiers and machines, or record on battery; Partsong takes the rest out.',
      ),
    );
  }
  const whistles = input.lines.filter((line) => !line.hum && !humsAlone(line.hz));
  if (whistles.length > 0) {
    found.push(
      finding(
        'whistle',
        weight(sumDb(whistles)),
        `Something whistles steadily at ${hertz(whistles)}.`,
        'Look for a computer, screen or charger near by and switch it off; Partsong takes the rest out.',
      ),
    );
  }
  return found;
}

/** The mains' hum, where its series was found, and low tones beside it. */
function humWords(humHz: number | null, hums: readonly NoiseLine[]): string {
  if (humHz === null) return `${tonesWords(hums)}, as mains or a motor makes`;
  const alone = hums.filter((line) => !line.hum);
  const mains = `mains hum at ${humHz.toFixed(1)} Hz`;
  return alone.length === 0 ? mains : `${mains}, and ${tonesWords(alone)}`;
}

function tonesWords(lines: readonly NoiseLine[]): string {
  return lines.length === 1 ? `a steady low tone at ${hertz(lines)}` : `steady low tones at ${hertz(lines)}`;
}

/** The strongest four, in their order of pitch. */
function hertz(lines: readonly NoiseLine[]): string {
  const strongest = [...lines].sort((one, other) => other.levelDbfs - one.levelDbfs).slice(0, MOST_NAMED);
  return strongest
    .sort((one, other) => one.hz - other.hz)
    .map((line) => `${Math.round(line.hz)} Hz`)
    .join(', ');
}

function sumDb(lines: readonly NoiseLine[]): number {
  return 10 * Math.log10(lines.reduce((sum, line) => sum + 10 ** (line.levelDbfs / 10), 0));
}
