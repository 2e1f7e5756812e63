import type { BridgeCalls, DoorAnswer } from '../../app/shell/contract/bridge.ts';
import { plainCallNames } from '../../app/shell/contract/call-names.ts';
import type { CallName } from '../../app/shell/contract/calls.ts';
import type { StartView } from '../../app/shell/contract/desk-view.ts';
import { BridgeFault } from './bridge-fault.ts';
import type { EventGate } from './event-gate.ts';

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
    plainCallNames.map((name) => [name, (input: unknown) => answerOf(name, input)]),
  ) as unknown as BridgeCalls;
  return { ...calls, begin: (input) => gate.begin(() => answerOf('begin', input) as Promise<StartView>) };
}
