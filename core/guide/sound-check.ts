import type { CheckCode, CheckFinding, CheckWeight } from './check-finding.ts';
import { channelFindings, cueFindings, levelFindings, noiseFindings, silenceFindings } from './check-findings.ts';
import type { CheckInput, FigureInput } from './check-input.ts';
import { type Levels, levelsOf } from './check-levels.ts';

export type { CheckCode, CheckFinding, CheckWeight } from './check-finding.ts';
export type { CheckInput } from './check-input.ts';

/** What a sound check came to. Levels that cannot be given are null. */
export interface SoundCheck {
  readonly verdict: string;
  readonly ready: boolean;
  /** In order of worth. */
  readonly findings: readonly CheckFinding[];
  readonly figures: CheckFigures;
}

/** A take's figures; null where one cannot be given. */
export interface CheckFigures {
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
}

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
  return {
    verdict: verdictOf(findings),
    ready: findings.every((one) => one.weight === 'know'),
    findings,
    figures: figuresBy(input, levels),
  };
}

/** The figures alone, without what the findings take besides. Pure. */
export function figuresOf(input: FigureInput): CheckFigures {
  return figuresBy(input, levelsOf(input));
}

function figuresBy(input: FigureInput, levels: Levels): CheckFigures {
  const first = input.silences[0];
  return {
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

function finite(value: number): number | null {
  return Number.isFinite(value) ? Math.round(value * 10) / 10 : null;
}
