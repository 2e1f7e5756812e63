import type { BridgeCalls, DoorAnswer } from '../../app/shell/contract/bridge.ts';
import type { CallName } from '../../app/shell/contract/calls.ts';
import type { StartView } from '../../app/shell/contract/desk-view.ts';
import { BridgeFault } from './bridge-fault.ts';
import type { EventGate } from './event-gate.ts';

/** The names of all calls. Written out here, since the page takes only types from the contract. */
const names: Readonly<Record<CallName, true>> = {
  begin: true,
  newSession: true,
  openSession: true,
  openSample: true,
  closeSession: true,
  forgetRecent: true,
  edit: true,
  undo: true,
  redo: true,
  addClips: true,
  setGuide: true,
  lineUpAgain: true,
  relink: true,
  searchMissing: true,
  joinPoints: true,
  listenToPitch: true,
  stopJob: true,
  render: true,
  readScore: true,
  makeGuide: true,
  tryGuide: true,
  checkClip: true,
  checkTake: true,
  forgetTrial: true,
  preparePictures: true,
  renderPicture: true,
  pickFiles: true,
  pickFolder: true,
  reveal: true,
};

/** One function a call over `send`; refusals reject with a BridgeFault, and `begin` goes through the gate. */
export function callFunctions(
  send: (name: CallName, input: unknown) => Promise<DoorAnswer>,
  gate: EventGate,
): BridgeCalls {
  const answerOf = async (name: CallName, input: unknown): Promise<unknown> => {
    const answer = await send(name, input);
    if (!answer.ok) throw new BridgeFault(answer.fault);
    return answer.value;
  };
  const calls = Object.fromEntries(
    (Object.keys(names) as CallName[]).map((name) => [name, (input: unknown) => answerOf(name, input)]),
  ) as unknown as BridgeCalls;
  return { ...calls, begin: (input) => gate.begin(() => answerOf('begin', input) as Promise<StartView>) };
}
