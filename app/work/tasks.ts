import type { TaskControl } from './control.ts';
import { type CleanTakeRequest, type CleanTakeResult, cleanTake } from './tasks/clean-take.ts';
import { type LineUpRequest, type LineUpResult, lineUp } from './tasks/line-up.ts';
import { type MixdownRequest, type MixdownResult, mixdown } from './tasks/mixdown.ts';
import { type StemRequest, type StemResult, stem } from './tasks/stem.ts';
import { type TakeInRequest, type TakeInResult, takeIn } from './tasks/take-in.ts';

/** Everything a worker can be asked to do. Requests and results are plain data: sound goes through files. */
interface Tasks {
  takeIn: { request: TakeInRequest; result: TakeInResult };
  lineUp: { request: LineUpRequest; result: LineUpResult };
  cleanTake: { request: CleanTakeRequest; result: CleanTakeResult };
  stem: { request: StemRequest; result: StemResult };
  mixdown: { request: MixdownRequest; result: MixdownResult };
}

export type TaskName = keyof Tasks;
export type TaskRequest<Name extends TaskName> = Tasks[Name]['request'];
export type TaskResult<Name extends TaskName> = Tasks[Name]['result'];

const runners: { [Name in TaskName]: (request: TaskRequest<Name>, control: TaskControl) => Promise<TaskResult<Name>> } =
  {
    takeIn,
    lineUp,
    cleanTake,
    stem,
    mixdown,
  };

/** Runs one task in this thread. */
export function runTask<Name extends TaskName>(
  name: Name,
  request: TaskRequest<Name>,
  control: TaskControl,
): Promise<TaskResult<Name>> {
  return runners[name](request, control);
}
