import { clickTimes } from './guide.ts';
import { MAINS_HZ, WHINE_HZ } from './noise.ts';
import { flashSec, type PicturePlan } from './picture.ts';
import { beatToSec, CUE_SEC, GUIDE_LENGTH_SEC, MUSIC_SEC, TITLE, TOTAL_BEATS } from './score.ts';
import { type RecordedTake, type TakePlan, toTakeSec } from './take.ts';

/** What is true of one take. Times named `Sec` are the take's own unless they say session. */
export interface TakeTruth {
  readonly file: string;
  readonly voice: string;
  /** Session time at which the clip's time zero sounds; session zero is the guide's first sample. */
  readonly offsetSec: number;
  readonly driftPpm: number;
  readonly lengthSec: number;
  readonly rateHz: number;
  readonly channels: number;
  readonly clapSec: number;
  readonly clapSessionSec: number;
  /** Room alone: no player, no handling. */
  readonly silence: readonly [fromSec: number, toSec: number];
  readonly music: readonly [fromSec: number, toSec: number];
  readonly musicLevelDbfs: number;
  readonly snrDb: number;
  readonly noise: { readonly kind: string; readonly levelDbfs: number; readonly linesHz: readonly number[] };
  readonly gainDb: number;
  readonly clipped: boolean;
  readonly clippedSamples: number;
  readonly bleedDb: number | null;
  readonly roomT60Sec: number;
  readonly tuningCents: number;
  readonly picture: {
    readonly flashSec: number;
    readonly rotationDegrees: number;
    readonly steadyRate: boolean;
  } | null;
  /** Session start, length, MIDI note, cents from equal temperament at 440 Hz. */
  readonly notes: readonly (readonly [startSec: number, lengthSec: number, midi: number, cents: number])[];
}

/** The whole of truth.json. */
export interface SessionTruth {
  readonly title: string;
  readonly convention: string;
  readonly guide: {
    readonly file: string;
    readonly lengthSec: number;
    readonly silence: readonly [fromSec: number, toSec: number];
    readonly cueSec: number;
    readonly countInSec: readonly number[];
    readonly beatsSec: readonly number[];
    readonly music: readonly [fromSec: number, toSec: number];
  };
  readonly takes: readonly TakeTruth[];
}

const GUIDE_FILE = 'guide.m4a';

function round(value: number, digits: number): number {
  return Number(value.toFixed(digits));
}

/** The truth about a take. */
export function takeTruth(plan: TakePlan, take: RecordedTake, picture: PicturePlan | null): TakeTruth {
  const own = (sessionSec: number): number => round(toTakeSec(plan, sessionSec), 6);
  const clapSec = own(take.clapSessionSec);
  const last = take.notes.at(-1)!;
  return {
    file: `takes/${plan.file}`,
    voice: plan.part.name,
    offsetSec: plan.offsetSec,
    driftPpm: plan.driftPpm,
    lengthSec: round(take.clipSec, 6),
    rateHz: plan.rateHz,
    channels: plan.channels,
    clapSec,
    clapSessionSec: round(take.clapSessionSec, 6),
    silence: [own(0.2), own(CUE_SEC - 0.3)],
    music: [own(take.notes[0]!.startSec), own(last.startSec + last.lengthSec)],
    musicLevelDbfs: round(take.musicLevelDbfs, 2),
    snrDb: plan.snrDb,
    noise: { kind: plan.noise, levelDbfs: round(take.noiseLevelDbfs, 2), linesHz: lines(plan) },
    gainDb: round(take.gainDb, 2),
    clipped: take.clippedSamples > 0,
    clippedSamples: take.clippedSamples,
    bleedDb: plan.bleedDb,
    roomT60Sec: plan.room.t60Sec,
    tuningCents: plan.freedom.tuningCents,
    picture: picture && {
      flashSec: round(flashSec(picture, clapSec), 6),
      rotationDegrees: picture.rotationDegrees,
      steadyRate: !picture.skips,
    },
    notes: take.notes.map((note) => [
      round(note.startSec, 4),
      round(note.lengthSec, 4),
      note.midi,
      round(note.cents, 2),
    ]),
  };
}

function lines({ noise }: TakePlan): number[] {
  if (noise === 'hum') return [MAINS_HZ];
  return noise === 'whine' ? [...WHINE_HZ] : [];
}

/** The truth about the session. */
export function sessionTruth(takes: readonly TakeTruth[]): SessionTruth {
  const { countInSec, beatsSec } = clickTimes();
  return {
    title: TITLE,
    convention:
      'takeSec = (sessionSec - offsetSec) * (1 + driftPpm * 1e-6); session zero is the first sample of the guide, take zero is presentation time 0 of the clip',
    guide: {
      file: GUIDE_FILE,
      lengthSec: round(GUIDE_LENGTH_SEC, 6),
      silence: [0, CUE_SEC],
      cueSec: CUE_SEC,
      countInSec: countInSec.map((sec) => round(sec, 6)),
      beatsSec: beatsSec.map((sec) => round(sec, 6)),
      music: [round(MUSIC_SEC, 6), round(beatToSec(TOTAL_BEATS), 6)],
    },
    takes,
  };
}
