import type { TakeMend } from '../pitch/mend.ts';
import type { Bend } from '../signal/clock.ts';
import type { TrailPoint } from './schema.ts';
/**
 * What was done to each take and why: the shape of report.json and of every `--json` output. Times are seconds; a take's
 * own times count from its clip's time zero (the container's presentation time 0), session times from session time zero.
 * A level that cannot be given as a number (silence) is null.
 */
export interface Report {
  readonly format: 'partsong-report';
  readonly version: 1;
  readonly title: string;
  readonly takes: readonly TakeReport[];
  readonly mix: MixReport;
  /** What the user should know about the whole, plain sentences. */
  readonly notes: readonly string[];
}

export interface TakeReport {
  readonly file: string;
  readonly name: string;
  readonly voice: string;
  readonly lengthSec: number;
  /** The stretch of its clip that it is, clip time; absent where it is the whole clip. */
  readonly part?: { readonly fromSec: number; readonly toSec: number } | undefined;
  readonly stem: string | null;
  /** Measured as the stem was written, null where it is silent; absent without a stem. */
  readonly stemTruePeakDbtp?: number | null | undefined;
  readonly silence: SilenceReport | null;
  readonly noise: NoiseReport | null;
  /** What was mended, by choice; absent or null where nothing was. */
  readonly mend?: MendReport | null | undefined;
  readonly placement: PlacementReport | null;
  readonly loudness: { readonly integratedLufs: number | null };
  /** Seconds of take time between the first and the last sound of the music, as found. */
  readonly music: { readonly fromSec: number; readonly toSec: number } | null;
  /** Gain in the mix: what the blend chose plus the fine move by hand, dB. */
  readonly gainDb: number;
  readonly role: string;
  readonly placeDeg: number;
  readonly notes: readonly string[];
}

/** What was asked for, in the take's own time as it was recorded, and how it came out. */
export interface MendReport extends TakeMend {
  /** Cross-fades within music. */
  readonly splices: number;
  /** The one that joins what is least alike: 1 the same, 0 nothing alike; null without one. */
  readonly worstSplice: { readonly atSec: number; readonly likeness: number } | null;
  /** Farthest that any moment of its music lies from where it should. */
  readonly farthestMs: number;
  /** Farthest that the beginning of a nudged stretch does; null without one. */
  readonly landingMs: number | null;
  /** Most local stretch. */
  readonly steepestPercent: number;
  /** Most by which the pitch is off where the sound is stretched. */
  readonly glideCents: number;
}

export interface SilenceReport {
  readonly fromSec: number;
  readonly toSec: number;
  /** 'found' by itself, 'given' by the user, 'guide' where the guide has it. */
  readonly how: 'found' | 'given' | 'guide' | 'clip';
}

export interface NoiseReport {
  /** Level of the noise in the silence before cleaning. */
  readonly levelDbfs: number | null;
  /** How much lower it is after cleaning. */
  readonly reducedDb: number;
  /** Mains hum found: its fundamental; null when there is none. */
  readonly humHz: number | null;
  /** Estimated harm to the music; lower (more negative) is less. */
  readonly harmDb: number | null;
  /** Musical-noise index: kurtosis after / before (Uemura et al. 2008); 1 is none. */
  readonly kurtosisRatio: number | null;
  readonly character: string;
  readonly rule: string;
  /** Third-octave spectra of the silence for the picture: band centre Hz, level before and after, dBFS. */
  readonly spectrum: readonly { readonly hz: number; readonly beforeDb: number; readonly afterDb: number }[];
}

export interface PlacementReport {
  /** Session time at which the clip's time zero sounds. */
  readonly offsetSec: number;
  /** How much faster the take's clock runs than the session's. */
  readonly driftPpm: number;
  /** Where the take's clock jumps or changes its speed; absent where it runs evenly. */
  readonly bends?: readonly Bend[] | undefined;
  readonly uncertaintySec: number;
  /** Farthest that any moment of the take is thought to lie from its place; absent where that is not known. */
  readonly residualSec?: number | undefined;
  /** What was heard of its clock along the take. */
  readonly trail?: readonly TrailPoint[] | undefined;
  /** Where and why it may lie more than 10 ms off, and what to do; absent where it does not. */
  readonly warning?: string | undefined;
  /** 0 (a guess) to 1 (sure). */
  readonly confidence: number;
  readonly question: string | null;
  readonly evidence: readonly EvidenceReport[];
}

export interface EvidenceReport {
  readonly kind: string;
  /** Session time the evidence is about, and the take's own time of that moment. */
  readonly atSec: number;
  readonly takeSec: number;
  /** Session time at which the take's time zero would sound by this witness alone. */
  readonly offsetSec: number;
  readonly uncertaintySec: number;
  /** A moment that the user pinned to its place; see anchors.ts. */
  readonly anchor?: { readonly jumpTakeSec: number | null } | undefined;
  /** Share of the placement that rests on it, 0 to 1. */
  readonly weight: number;
  readonly accepted: boolean;
  readonly note: string;
}

export interface MixReport {
  readonly file: string;
  readonly integratedLufs: number | null;
  readonly truePeakDbtp: number | null;
  readonly rangeLu: number;
  readonly lengthSec: number;
  /** Most gain the limiter took away at any moment, dB (0 when it never worked). */
  readonly limiterMaxDb: number;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  readonly music: { readonly fromSec: number; readonly toSec: number } | null;
  /** Short-term loudness every 0.5 s, LUFS, null where silent. */
  readonly shortTermLufs: readonly (number | null)[];
  readonly copies: readonly CopyReport[];
}

/** A copy of the mix for upload, cut to the music. */
export interface CopyReport {
  readonly file: string;
  readonly lengthSec: number;
  readonly integratedLufs: number | null;
  /** Measured on the decoded copy: a lossy coder can pass the ceiling. */
  readonly truePeakDbtp: number | null;
}

/** A level for JSON: null instead of minus infinity. Rounded to 3 decimals. */
export function levelForReport(value: number): number | null {
  return Number.isFinite(value) ? Math.round(value * 1000) / 1000 : null;
}
