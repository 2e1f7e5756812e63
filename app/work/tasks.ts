import type { SoundCheck } from '../../core/guide/sound-check.ts';
import type { JoinMatch } from '../../core/mix/join.ts';
import type { TrackedPitch } from '../../core/pitch/tracked-pitch.ts';
import type { Played } from '../../core/session/played-figures.ts';
import type { TuneFindings } from '../../core/session/tune-report.ts';
import type { TaskControl } from './control.ts';
import type { MixRequest } from './mix-passes.ts';
import { type CheckTakeRequest, checkTake } from './tasks/check-take.ts';
import { type CleanTakeRequest, type CleanTakeResult, cleanTake } from './tasks/clean-take.ts';
import { type CutPartRequest, type CutPartResult, cutPart } from './tasks/cut-part.ts';
import { type DrawSpectrogramRequest, drawSpectrogram } from './tasks/draw-spectrogram.ts';
import { type DrawnWave, type DrawWaveRequest, drawWave } from './tasks/draw-wave.ts';
import { type LineUpRequest, type LineUpResult, lineUp } from './tasks/line-up.ts';
import { type MatchJoinsRequest, matchJoins } from './tasks/match-joins.ts';
import { type MeasureTakeRequest, measureTake, type TakeLoudness } from './tasks/measure-take.ts';
import { type MendTakeRequest, type MendTakeResult, mendTake } from './tasks/mend-take.ts';
import { findMaster, type MixdownRequest, type MixdownResult, mixdown } from './tasks/mixdown.ts';
import { type PlayFiguresRequest, playFigures } from './tasks/play-figures.ts';
import { type SoundFigures, type SoundFiguresRequest, soundFigures } from './tasks/sound-figures.ts';
import { type StemRequest, type StemResult, stem } from './tasks/stem.ts';
import { type TakeInRequest, type TakeInResult, takeIn } from './tasks/take-in.ts';
import { type TrackPitchRequest, trackPitch } from './tasks/track-pitch.ts';
import { type TuneVoicesRequest, tuneVoices } from './tasks/tune-voices.ts';

/** Everything a worker can be asked to do. Requests and results are plain data: sound goes through files. */
interface Tasks {
  takeIn: { request: TakeInRequest; result: TakeInResult };
  cutPart: { request: CutPartRequest; result: CutPartResult };
  lineUp: { request: LineUpRequest; result: LineUpResult };
  cleanTake: { request: CleanTakeRequest; result: CleanTakeResult };
  checkTake: { request: CheckTakeRequest; result: SoundCheck };
  soundFigures: { request: SoundFiguresRequest; result: SoundFigures };
  matchJoins: { request: MatchJoinsRequest; result: JoinMatch[] };
  mendTake: { request: MendTakeRequest; result: MendTakeResult };
  measureTake: { request: MeasureTakeRequest; result: TakeLoudness };
  trackPitch: { request: TrackPitchRequest; result: TrackedPitch };
  tuneVoices: { request: TuneVoicesRequest; result: TuneFindings };
  playFigures: { request: PlayFiguresRequest; result: Played[] };
  drawWave: { request: DrawWaveRequest; result: DrawnWave };
  drawSpectrogram: { request: DrawSpectrogramRequest; result: Uint8Array<ArrayBuffer> };
  stem: { request: StemRequest; result: StemResult };
  mixdown: { request: MixdownRequest; result: MixdownResult };
  findMaster: { request: MixRequest; result: MixdownResult };
}

export type TaskName = keyof Tasks;
export type TaskRequest<Name extends TaskName> = Tasks[Name]['request'];
export type TaskResult<Name extends TaskName> = Tasks[Name]['result'];

const runners: { [Name in TaskName]: (request: TaskRequest<Name>, control: TaskControl) => Promise<TaskResult<Name>> } =
  {
    takeIn,
    cutPart,
    lineUp,
    cleanTake,
    checkTake,
    soundFigures,
    matchJoins,
    mendTake,
    measureTake,
    trackPitch,
    tuneVoices,
    playFigures,
    drawWave,
    drawSpectrogram,
    stem,
    mixdown,
    findMaster,
  };

/** Runs one task in this thread. */
export function runTask<Name extends TaskName>(
  name: Name,
  request: TaskRequest<Name>,
  control: TaskControl,
): Promise<TaskResult<Name>> {
  return runners[name](request, control);
}
