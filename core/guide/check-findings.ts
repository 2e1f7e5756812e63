import type { NoiseLine } from '../noise/profile.ts';
import type { CheckInput } from './check-input.ts';
import { type Levels, pumpingOf, rumbleOf } from './check-levels.ts';
import { humsAlone } from './steady-tones.ts';

export type CheckCode =
  | 'clipped'
  | 'tooLoud'
  | 'tooQuiet'
  | 'noMusic'
  | 'noSilence'
  | 'noClap'
  | 'noisy'
  | 'hum'
  | 'whistle'
  | 'rumble'
  | 'echo'
  | 'pumping'
  | 'gated'
  | 'deadChannel'
  | 'turnedChannel'
  | 'bleed';

/** 'again': the take is lost so; 'mend': worth changing before the next one; 'know': Partsong copes, but it is there. */
export type CheckWeight = 'again' | 'mend' | 'know';

export interface CheckFinding {
  readonly code: CheckCode;
  readonly weight: CheckWeight;
  /** What is the matter, one sentence with its figure. */
  readonly what: string;
  /** What to change, one sentence. */
  readonly change: string;
}

/*
 * Bounds of the verdict. Common practice, no source, set on takes with known faults: a phone's take is healthy with peaks
 * from -3 to -20 dBFS, a noise 20 dB and more below the music, an echo of about a second at most.
 */
const LOUD_PEAK_DBFS = -1;
const QUIET_LOUDEST_DBFS = -38;
const LOST_SNR_DB = 12;
const POOR_SNR_DB = 20;
const SHORTEST_SILENCE_SEC = 1;
const CLAP_LIKENESS = 0.45;
const LONG_ECHO_SEC = 1.1;
const LOUD_HUM_DB = -32;
/** So many steady tones are named at most. */
const MOST_NAMED = 4;
const BLEED_DB = -36;

/** Is there room noise to learn from? */
export function silenceFindings(input: CheckInput): CheckFinding[] {
  const first = input.silences[0];
  if (first === undefined) {
    const why = {
      'all music': 'no stretch was found in which nobody plays',
      'too short': 'the quiet at the beginning is too short to learn the room from',
      'holds music': 'what should be silence holds other sounds',
      'digital silence': 'the quiet parts hold nothing at all, not even the room',
    }[input.noSilence ?? 'all music'];
    return [
      finding(
        'noSilence',
        'mend',
        `There is no usable silence: ${why}.`,
        'Stay still for three to five seconds before the clap.',
      ),
    ];
  }
  const lengthSec = first.toSec - first.fromSec;
  if (lengthSec >= SHORTEST_SILENCE_SEC) return [];
  return [
    finding(
      'noSilence',
      'mend',
      `The longest silence lasts only ${lengthSec.toFixed(1)} s.`,
      'Stay still for three to five seconds before the clap.',
    ),
  ];
}

/** Is the music there, loud enough and not too loud? */
export function levelFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  if (levels.loudestDbfs === Number.NEGATIVE_INFINITY) {
    return [
      finding(
        'noMusic',
        'again',
        'No music was found in this clip.',
        'Play a loud passage of the piece for the check, and see that the right microphone is on.',
      ),
    ];
  }
  if (input.clippedSamples !== null) {
    found.push(
      finding(
        'clipped',
        'again',
        `The recorder cut off the tops of waves (${input.clippedSamples} samples): it crackles.`,
        'Move the phone further away or turn it aside; where the camera app has a level, lower it.',
      ),
    );
  } else if (levels.peakDbfs > LOUD_PEAK_DBFS) {
    found.push(
      finding(
        'tooLoud',
        'mend',
        `The loudest peak is at ${tenth(levels.peakDbfs)} dBFS, with no room above.`,
        'Move the phone a step further away, so that a louder note does not crackle.',
      ),
    );
  }
  if (levels.loudestDbfs < QUIET_LOUDEST_DBFS) {
    found.push(
      finding(
        'tooQuiet',
        'mend',
        `Even the loudest passage reaches only ${tenth(levels.loudestDbfs)} dBFS.`,
        'Bring the phone nearer, and see that nothing covers its microphone.',
      ),
    );
  }
  return found;
}

/** Noise, hum, whistles, rumble, echo, and a phone that meddles. */
export function noiseFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  const { snrDb } = levels;
  if (snrDb !== null && snrDb < POOR_SNR_DB) {
    found.push(
      finding(
        'noisy',
        snrDb < LOST_SNR_DB ? 'again' : 'mend',
        `The music stands only ${Math.round(snrDb)} dB above the noise of the room.`,
        'Bring the phone nearer, close windows, and switch off fans and machines.',
      ),
    );
  }
  found.push(...steadyTones(input, levels));
  const rumble = rumbleOf(input);
  if (rumble !== undefined) {
    found.push(
      finding(
        'rumble',
        'mend',
        `Wind, steps or handling rumble below 35 Hz in ${Math.round(100 * rumble)} % of the take.`,
        'Put the phone on something soft and firm, out of any draught, and do not touch it while recording.',
      ),
    );
  }
  if (input.echoSec !== null && input.echoSec > LONG_ECHO_SEC) {
    found.push(
      finding(
        'echo',
        'mend',
        `The room rings for about ${input.echoSec.toFixed(1)} s.`,
        'Play nearer to the phone, and hang up or lay out something soft: curtains, blankets, an open wardrobe.',
      ),
    );
  }
  const drop = pumpingOf(input, levels);
  if (drop !== undefined) {
    found.push(
      finding(
        'pumping',
        'mend',
        `The phone changes its level by itself: the noise in the pauses lies ${Math.round(drop)} dB under that of the silence.`,
        'Switch off automatic gain, noise reduction or "voice" mode in the camera app, or use a plain recorder app.',
      ),
    );
  }
  if (input.digitalSilenceSec > 0.2) {
    found.push(
      finding(
        'gated',
        'mend',
        `In ${input.digitalSilenceSec.toFixed(1)} s of the take every sample is zero: something mutes the microphone.`,
        'Switch off noise reduction or "voice" mode in the camera app, or use a plain recorder app.',
      ),
    );
  }
  return found;
}

/** Hum and whistles of the room. */
function steadyTones(input: CheckInput, levels: Levels): CheckFinding[] {
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

/** What the fold of two channels told. */
export function channelFindings(input: CheckInput): CheckFinding[] {
  if (input.fold === 'dead') {
    return [
      finding(
        'deadChannel',
        'know',
        'One of the two channels carries no sound.',
        'Check the plug of an outside microphone; Partsong uses the other channel.',
      ),
    ];
  }
  if (input.fold === 'opposite') {
    return [
      finding(
        'turnedChannel',
        'know',
        'One of the two channels is upside down (opposite polarity).',
        'Check the cable or adapter of an outside microphone; Partsong turns it back.',
      ),
    ];
  }
  return [];
}

/** The clap, and a guide that leaks. */
export function cueFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  if (input.clap === null || input.clap.likeness < CLAP_LIKENESS) {
    found.push(
      finding(
        'noClap',
        'mend',
        'No clear clap was found before the music.',
        'Clap once, sharply, after the silence and before you play.',
      ),
    );
  }
  if (input.bleedDbfs !== null && input.bleedDbfs - levels.musicDbfs > BLEED_DB) {
    found.push(
      finding(
        'bleed',
        'mend',
        `The guide can be heard from your headphones, ${Math.round(levels.musicDbfs - input.bleedDbfs)} dB under your music.`,
        'Turn the guide down or use closed headphones; softer is safer for your ears, too.',
      ),
    );
  }
  return found;
}

function finding(code: CheckCode, weight: CheckWeight, what: string, change: string): CheckFinding {
  return { code, weight, what, change };
}

function sumDb(lines: readonly NoiseLine[]): number {
  return 10 * Math.log10(lines.reduce((sum, line) => sum + 10 ** (line.levelDbfs / 10), 0));
}

function tenth(value: number): string {
  return value.toFixed(1).replace('-', '−');
}
