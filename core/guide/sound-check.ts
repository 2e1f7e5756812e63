import type { NoiseLine } from '../noise/profile.ts';
import type { FoldReason } from '../signal/fold.ts';
import { CHECK_STEPS_PER_SEC, type CheckCurves } from './check-meter.ts';

/** What is known of a trial take. Times are seconds of the take. */
export interface CheckInput {
  readonly curves: CheckCurves;
  /** Silences found, best first; empty when there is none. */
  readonly silences: readonly { readonly fromSec: number; readonly toSec: number }[];
  /** Why none was found; null when one was. */
  readonly noSilence: 'all music' | 'too short' | 'holds music' | 'digital silence' | null;
  /** Level where the noise was learnt, dBFS; null without a silence. */
  readonly noiseDbfs: number | null;
  readonly lines: readonly NoiseLine[];
  readonly humHz: number | null;
  /** Samples cut off by the recorder, outside the clap; null when the take is not clipped. */
  readonly clippedSamples: number | null;
  /** The sound most likely to be the clap: where, and how like one, 0 to 1. */
  readonly clap: { readonly atSec: number; readonly likeness: number } | null;
  readonly musicFromSec: number | null;
  /** Reverberation time by the clap, s. */
  readonly echoSec: number | null;
  readonly fold: FoldReason;
  readonly digitalSilenceSec: number;
  /** Level of the guide as the take hears it from the headphones, dBFS; null where none is heard or there is no guide. */
  readonly bleedDbfs: number | null;
}

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

/** What a sound check came to. Levels that cannot be given are null. */
export interface SoundCheck {
  readonly verdict: string;
  readonly ready: boolean;
  /** In order of worth. */
  readonly findings: readonly CheckFinding[];
  readonly figures: {
    readonly peakDbfs: number | null;
    /** Loudest 400 ms. */
    readonly loudestDbfs: number | null;
    readonly musicDbfs: number | null;
    readonly noiseDbfs: number | null;
    readonly snrDb: number | null;
    readonly humHz: number | null;
    readonly echoSec: number | null;
    readonly bleedDbfs: number | null;
    readonly silenceSec: number | null;
    readonly clapSec: number | null;
  };
}

/*
 * Bounds of the verdict. Common practice, no source, set on takes with known faults: a phone's take is healthy with peaks
 * from -3 to -20 dBFS, a noise 35 dB and more below the music, an echo under a second.
 */
const LOUD_PEAK_DBFS = -1;
const QUIET_LOUDEST_DBFS = -38;
const LOST_SNR_DB = 12;
const POOR_SNR_DB = 20;
const SHORTEST_SILENCE_SEC = 1;
const CLAP_LIKENESS = 0.45;
const LONG_ECHO_SEC = 1.1;
const LOUD_HUM_DB = -32;
const PUMPING_DB = 5;
const BLEED_DB = -36;
/** Music stands at least this far above the noise, dB. */
const MUSIC_ABOVE_DB = 10;
/** A clap and its echo, s. */
const CLAP_BEFORE_SEC = 0.1;
const CLAP_AFTER_SEC = 0.6;

/** Judges a trial take. Pure. */
export function judgeTake(input: CheckInput): SoundCheck {
  const levels = levelsOf(input);
  const findings = [
    ...silenceFindings(input),
    ...levelFindings(input, levels),
    ...noiseFindings(input, levels),
    ...channelFindings(input),
    ...cueFindings(input, levels),
  ].sort((a, b) => ORDER.indexOf(a.weight) - ORDER.indexOf(b.weight) || WORTH.indexOf(a.code) - WORTH.indexOf(b.code));
  const first = input.silences[0];
  return {
    verdict: verdictOf(findings),
    ready: findings.every((one) => one.weight === 'know'),
    findings,
    figures: {
      peakDbfs: finite(levels.peakDbfs),
      loudestDbfs: finite(levels.loudestDbfs),
      musicDbfs: finite(levels.musicDbfs),
      noiseDbfs: input.noiseDbfs,
      snrDb: levels.snrDb,
      humHz: input.humHz,
      echoSec: input.echoSec,
      bleedDbfs: input.bleedDbfs,
      silenceSec: first === undefined ? null : first.toSec - first.fromSec,
      clapSec: input.clap?.atSec ?? null,
    },
  };
}

const ORDER: readonly CheckWeight[] = ['again', 'mend', 'know'];
const WORTH: readonly CheckCode[] = [
  'noMusic',
  'clipped',
  'noSilence',
  'noisy',
  'tooQuiet',
  'pumping',
  'gated',
  'noClap',
  'bleed',
  'rumble',
  'tooLoud',
  'deadChannel',
  'turnedChannel',
  'echo',
  'hum',
  'whistle',
];

function verdictOf(findings: readonly CheckFinding[]): string {
  const again = findings.filter((one) => one.weight === 'again').length;
  const mend = findings.filter((one) => one.weight === 'mend').length;
  if (again > 0) return 'Not yet: change what stands first, then try once more.';
  if (mend > 0) return 'Usable, and worth a change before you record the piece.';
  return 'Good: record your takes like this.';
}

interface Levels {
  readonly peakDbfs: number;
  readonly loudestDbfs: number;
  readonly musicDbfs: number;
  readonly snrDb: number | null;
}

function levelsOf(input: CheckInput): Levels {
  const { power, peak, stepSec } = input.curves;
  const floor = input.noiseDbfs === null ? 1e-9 : 10 ** ((input.noiseDbfs + MUSIC_ABOVE_DB) / 10) / 2;
  const isMusic = (step: number): boolean => !nearClap(input, step * stepSec) && power[step]! > floor;
  let most = 0;
  let loudest = 0;
  const loud: number[] = [];
  for (let step = 0; step < power.length; step++) {
    if (!isMusic(step)) continue;
    loud.push(power[step]!);
    most = Math.max(most, peak[step]!);
    let sum = 0;
    for (let n = step; n < Math.min(power.length, step + 8); n++) sum += power[n]!;
    loudest = Math.max(loudest, sum / 8);
  }
  loud.sort((a, b) => a - b);
  // The level of the music: the mean of its louder half, as a gated loudness would have it.
  const half = loud.slice(loud.length >> 1);
  const musicDbfs = dbfs(half.reduce((sum, one) => sum + one, 0) / Math.max(1, half.length));
  return {
    peakDbfs: 20 * Math.log10(most),
    loudestDbfs: dbfs(loudest),
    musicDbfs,
    snrDb: input.noiseDbfs === null || loud.length < 10 ? null : musicDbfs - input.noiseDbfs,
  };
}

/** dBFS of a mean square: a full-scale sine is 0. */
function dbfs(meanSquare: number): number {
  return 10 * Math.log10(2 * meanSquare);
}

function nearClap(input: CheckInput, sec: number): boolean {
  const at = input.clap?.atSec;
  return at !== undefined && sec > at - CLAP_BEFORE_SEC && sec < at + CLAP_AFTER_SEC;
}

function silenceFindings(input: CheckInput): CheckFinding[] {
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

function levelFindings(input: CheckInput, levels: Levels): CheckFinding[] {
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

function noiseFindings(input: CheckInput, levels: Levels): CheckFinding[] {
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
  const hum = input.lines.filter((line) => line.hum || isMainsMultiple(line.hz));
  if (hum.length > 0) {
    const level = sumDb(hum);
    const isLoud = level - levels.musicDbfs > LOUD_HUM_DB;
    const where =
      input.humHz === null
        ? `a steady tone at ${Math.round(hum[0]!.hz)} Hz, such as mains hum or a motor makes`
        : `mains hum at ${input.humHz.toFixed(1)} Hz`;
    found.push(
      finding(
        'hum',
        isLoud ? 'mend' : 'know',
        `There is ${where}, ${tenth(level)} dBFS.`,
        'Move away from chargers, lamps and amplifiers, or record on battery; Partsong takes the rest out.',
      ),
    );
  }
  const whistles = input.lines.filter((line) => !line.hum && !isMainsMultiple(line.hz));
  if (whistles.length > 0) {
    const names = whistles.slice(0, 4).map((line) => `${Math.round(line.hz)} Hz`);
    const isLoud = sumDb(whistles) - levels.musicDbfs > LOUD_HUM_DB;
    found.push(
      finding(
        'whistle',
        isLoud ? 'mend' : 'know',
        `Something whistles steadily at ${names.join(', ')}.`,
        'Look for a computer, screen or charger near by and switch it off; Partsong takes the rest out.',
      ),
    );
  }
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

/** A multiple of 50 or 60 Hz, 0.2 % to both sides, below which hum has its strong lines. */
function isMainsMultiple(hz: number): boolean {
  return hz < 800 && [50, 60].some((mains) => Math.abs(hz / mains - Math.round(hz / mains)) * mains < 0.002 * hz);
}

/** Share of the take in which the lowest band carries more than all the rest, above the noise of the room. */
function rumbleOf(input: CheckInput): number | undefined {
  const { power, lowPower } = input.curves;
  let count = 0;
  for (let step = 0; step < power.length; step++) {
    const rest = power[step]! - lowPower[step]!;
    if (dbfs(lowPower[step]!) > -52 && lowPower[step]! > 3 * Math.max(rest, 1e-12)) count++;
  }
  const share = count / Math.max(1, power.length);
  return share > 0.02 && count >= 6 ? share : undefined;
}

/**
 * How far the quietest third of a second of the take lies under its steady beginning, above 2 kHz, dB: a room's noise does not
 * fall once somebody has played; under an automatic gain it does. Undefined where it does not fall, or where the take does not
 * begin with a steady second well below the music.
 */
function pumpingOf(input: CheckInput, levels: Levels): number | undefined {
  const { brightPower, power, stepSec } = input.curves;
  const begin = steadyBeginning(brightPower, power, levels.musicDbfs);
  if (begin === undefined || begin < 1e-11) return undefined;
  const window = Math.round(0.35 / stepSec);
  let least = Number.POSITIVE_INFINITY;
  for (let step = 0; step + window <= brightPower.length; step++) {
    const here = mean(brightPower, step, step + window);
    if (here > 1e-12) least = Math.min(least, here);
  }
  const dropDb = 10 * Math.log10(begin / least);
  return Number.isFinite(dropDb) && dropDb > PUMPING_DB ? dropDb : undefined;
}

/** Mean of the bright power over the first second that is steady to 4 dB and lies 6 dB below the music. */
function steadyBeginning(bright: Float32Array, power: Float32Array, musicDbfs: number): number | undefined {
  const second = CHECK_STEPS_PER_SEC;
  const last = Math.min(bright.length - second, 6 * second);
  for (let from = Math.round(0.3 * second); from < last; from++) {
    let low = Number.POSITIVE_INFINITY;
    let high = 0;
    for (let step = from; step + 3 <= from + second; step++) {
      const here = mean(bright, step, step + 3);
      low = Math.min(low, here);
      high = Math.max(high, here);
    }
    if (high < 2.5 * low && dbfs(mean(power, from, from + second)) < musicDbfs - 6)
      return mean(bright, from, from + second);
  }
  return undefined;
}

function mean(values: Float32Array, from: number, to: number): number {
  let sum = 0;
  for (let step = from; step < to; step++) sum += values[step]!;
  return sum / Math.max(1, to - from);
}

function channelFindings(input: CheckInput): CheckFinding[] {
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

function cueFindings(input: CheckInput, levels: Levels): CheckFinding[] {
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

function finite(value: number): number | null {
  return Number.isFinite(value) ? Math.round(value * 10) / 10 : null;
}
