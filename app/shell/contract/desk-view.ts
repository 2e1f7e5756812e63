import type { JoinKind } from '../../../core/mix/join.ts';
import type { Played } from '../../../core/session/played-figures.ts';
import type { NoiseReport, SilenceReport } from '../../../core/session/report.ts';
import type { Session } from '../../../core/session/schema.ts';
import type { BlendFinding } from '../../../core/session/strip-of.ts';
import type { MadeGuideView, TrialView } from './guide-view.ts';
import type { IntonationView } from './intonation-view.ts';
import type { MadePictureView, TakePictureView } from './picture-view.ts';

/** A fault as the screen shows it: what happened, to which file, and what to do. */
export interface FaultView {
  readonly code: string;
  readonly message: string;
  readonly nextStep: string;
  readonly file: string | null;
}

/** Seconds, of the take's or the session's own time as the field says. */
export interface SpanView {
  readonly fromSec: number;
  readonly toSec: number;
}

/** Which sound of a take: as recorded, after cleaning, or what cleaning took away. */
export type Listen = 'before' | 'after' | 'takenAway';

/** The steps of the running order that there are so far. */
export type StepName =
  | 'guide'
  | 'soundCheck'
  | 'takes'
  | 'clean'
  | 'lineUp'
  | 'intonation'
  | 'blend'
  | 'picture'
  | 'render';
export type StepState = 'toDo' | 'lookHere' | 'done';

export interface StepView {
  readonly state: StepState;
  /** Work for this step runs in the background. */
  readonly busy: boolean;
  /** What is to be done, looked at, or was done; one plain sentence. */
  readonly sentence: string;
}

/** What is known of a clip's sound beyond what the session says of it. Times are the take's own. */
export interface TakeFacts {
  readonly takeId: string;
  /** 'waiting' and 'reading' before it can be used; 'missing' when its file is not where it was; 'faulty' has a fault. */
  readonly state: 'waiting' | 'reading' | 'ready' | 'missing' | 'faulty';
  readonly fault: FaultView | null;
  /** The clip's full path, for people. */
  readonly file: string;
  /** Of the take; its clip is longer where the take is a part of it. */
  readonly lengthSec: number;
  /** The stretch of its clip that all this is told of; null: the whole clip. The session's may be newer for a moment. */
  readonly part: SpanView | null;
  /** Its whole clip, s; 0 until it was read. */
  readonly clipSec: number;
  /** Where the clip seems to hold several takes, and nobody has said yet what is to be done with them; null elsewhere. */
  readonly several: SeveralView | null;
  readonly rateHz: number;
  readonly codec: string;
  readonly channels: number;
  readonly hasPicture: boolean;
  /** Its moving picture; null without one, and until it was looked at. */
  readonly picture: TakePictureView | null;
  readonly peakDbfs: number | null;
  /** Where the recorder cut off the tops of waves. */
  readonly clipped: readonly SpanView[];
  /** Silences found by itself, best first. */
  readonly silences: readonly SpanView[];
  /** Waveform pyramids that can be fetched; see media.ts. */
  readonly waves: { readonly before: boolean; readonly after: boolean };
  readonly notes: readonly string[];
  readonly clean: CleanFacts;
  /** Whether its sound is mended as the session asks: 'busy' while it is made. */
  readonly mended: 'none' | 'busy' | 'ready';
  /** What was mended and how well, plain sentences; none until it is ready. */
  readonly mendNotes: readonly string[];
  /** Gated loudness of its music, LUFS; null until measured, or when silent. */
  readonly integratedLufs: number | null;
  /** Where its music lies, session time; null until measured. */
  readonly music: SpanView | null;
  /**
   * How its notes scatter in time, ms, and spread in pitch, cents (null where that cannot be told), or why not, and which stretches lie
   * elsewhere; null until its voice's takes were listened to.
   */
  readonly played: Played | null;
  /** Its sound on the session's time line can be played ('before' and 'after' alike). */
  readonly playable: boolean;
}

/** A clip that seems to hold several takes one after another. Seconds of the clip. */
export interface SeveralView {
  readonly parts: readonly (SpanView & {
    /** With its clap, or where its music begins. */
    readonly beginsSec: number;
    readonly by: 'clap' | 'music';
    /** Much shorter than the longest. */
    readonly isBrokenOff: boolean;
  })[];
  /** How loud the clip is, evenly spaced over it, 0 to 1. */
  readonly outline: readonly number[];
}

export interface CleanFacts {
  /** 'unfit': no usable silence, `unfit` says why; its sound stays as it was. */
  readonly state: 'off' | 'waiting' | 'working' | 'ready' | 'unfit';
  readonly unfit: string | null;
  /** The silence learnt from, take time. */
  readonly silence: SilenceReport | null;
  /** 0 to 1. */
  readonly silenceConfidence: number | null;
  readonly noise: NoiseReport | null;
  readonly whistlesHz: readonly number[];
  /** Hum lines taken out, with their level before, dBFS. */
  readonly lines: readonly { readonly hz: number; readonly levelDbfs: number }[];
  readonly restoredSamples: number;
  readonly backedOff: number;
  readonly notes: readonly string[];
}

/** What the blend found, and how the mix will come out with it. */
export interface BlendView {
  readonly voices: readonly (BlendFinding & {
    readonly voiceId: string;
    readonly takeId: string;
    readonly reason: string;
    /** The blend could not bring it to its level. */
    readonly isOff: boolean;
    /** Of a voice made of passages, in order; none for one take alone, and while they are being found. */
    readonly joins: readonly JoinView[];
  })[];
  /** The stretch in which the mix sounds, session time; null: all of it. */
  readonly span: SpanView | null;
  readonly lengthFrames: number;
  /** Gain at the end that meets the target, and the ceiling of the limiter; null until it was measured. */
  readonly master: { readonly gainDb: number; readonly ceilingDbtp: number } | null;
  /** The master gain is older than the newest change and is being measured anew. */
  readonly measuring: boolean;
}

/** How two takes go over into each other. */
export interface JoinView {
  /** Session time. */
  readonly atSec: number;
  readonly leftTakeId: string;
  readonly rightTakeId: string;
  readonly kind: JoinKind;
  readonly fadeSec: number;
  /** What was left between the levels of the two at this place and is matched, dB. */
  readonly stepDb: number;
  /** By how much the take before it was brighter (above 1.2 kHz), which is matched as well, dB. */
  readonly tiltDb: number;
}

/** Long work in the background. */
export interface JobView {
  readonly id: string;
  readonly kind:
    | 'takeIn'
    | 'clean'
    | 'mend'
    | 'lineUp'
    | 'lay'
    | 'pitch'
    | 'measure'
    | 'render'
    | 'search'
    | 'guide'
    | 'check'
    | 'proxy'
    | 'picture';
  /** What it does, as a heading: "Cleaning 3 takes". */
  readonly title: string;
  readonly fraction: number;
  /** Seconds left as far as can be told; null at the beginning. */
  readonly leftSec: number | null;
  readonly canStop: boolean;
}

/** The newest finished render. Paths are full. */
export interface RenderView {
  readonly folder: string;
  readonly files: readonly {
    readonly path: string;
    readonly what: 'mix' | 'copy' | 'stem' | 'report';
    readonly sizeBytes: number;
    /** Of a stem, as it was written; null where it is silent. Absent of other files, and where an older Partsong made it. */
    readonly truePeakDbtp?: number | null;
  }[];
  readonly integratedLufs: number | null;
  readonly truePeakDbtp: number | null;
  readonly rangeLu: number;
  readonly lengthSec: number;
  readonly limiterMaxDb: number;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  /** Every 0.5 s, LUFS; null where silent. */
  readonly shortTermLufs: readonly (number | null)[];
  readonly notes: readonly string[];
  /** False when the session has changed since, or an older Partsong made it otherwise. */
  readonly current: boolean;
}

/** Everything the screen shows of an open session. Events bring changes of its parts. */
export interface DeskView {
  readonly folder: string;
  readonly session: Session;
  /** Counts every change of the session. */
  readonly revision: number;
  /** What undo and redo would take back or do again; null when there is nothing. */
  readonly undoLabel: string | null;
  readonly redoLabel: string | null;
  readonly saved: 'saved' | 'saving' | 'failed';
  /** What was mended when it was opened (an older copy, edits kept after a crash); null when nothing. */
  readonly recovered: string | null;
  readonly takes: Readonly<Record<string, TakeFacts>>;
  /** The guide's own facts; its takeId is 'guide'. */
  readonly guide: TakeFacts | null;
  readonly blend: BlendView | null;
  readonly steps: Readonly<Record<StepName, StepView>>;
  readonly jobs: readonly JobView[];
  readonly render: RenderView | null;
  /** The newest guide that was made here. */
  readonly madeGuide: MadeGuideView | null;
  /** The newest video that was made here. */
  readonly madePicture: MadePictureView | null;
  /** Clips given to the sound check, newest first. */
  readonly trials: readonly TrialView[];
  /** Null until the user had the pitch listened to. */
  readonly intonation: IntonationView | null;
}

/** What the start screen knows. */
export interface StartView {
  readonly door: 'window' | 'browser';
  readonly version: string;
  readonly platform: 'linux' | 'darwin' | 'win32' | 'other';
  readonly recents: readonly RecentView[];
  /** Which FFmpeg is used, for people; null with the fault beside when there is none. */
  readonly ffmpeg: string | null;
  readonly ffmpegFault: FaultView | null;
  /** Where new sessions go. */
  readonly home: string;
  /** The session that is open already; null when there is none. */
  readonly desk: DeskView | null;
}

export interface RecentView {
  readonly folder: string;
  readonly title: string;
  readonly voices: number;
  /** ISO 8601. */
  readonly openedAt: string;
  readonly isMissing: boolean;
}
