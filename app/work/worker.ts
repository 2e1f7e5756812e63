import { type ControlMemory, controlOver, type Outcome, packed } from './control.ts';
import { runTask, type TaskName, type TaskRequest, type TaskResult } from './tasks.ts';

/** The entry of a worker thread: one task at a time, its end packed so that it crosses threads whole. */
export default function work<Name extends TaskName>(message: {
  name: Name;
  request: TaskRequest<Name>;
  memory: ControlMemory;
}): Promise<Outcome<TaskResult<Name>>> {
  return packed(() => runTask(message.name, message.request, controlOver(message.memory, true)));
}
