import { CancelledError, PartsongError } from '../../core/signal/fault.ts';
import type { DoorAnswer } from './contract/bridge.ts';
import { type CallName, callInputs } from './contract/calls.ts';
import type { FaultView } from './contract/desk-view.ts';
import type { DeskDoorHost } from './door-host.ts';
import { noteTrouble } from './trouble.ts';

/** A fault of a door itself. */
export function doorFault(code: string, message: string, nextStep: string, file: string | null = null): FaultView {
  return { code, message, nextStep, file };
}

/** A call that passed the door's check, or the fault that turned it away. */
export type CheckedCall =
  | { readonly ok: true; readonly name: CallName; readonly input: unknown }
  | { readonly ok: false; readonly fault: FaultView };

/** Checks a call from a page: its name is known and its input is as the contract says, nothing more and nothing less. */
export function checkCall(name: unknown, input: unknown): CheckedCall {
  if (typeof name !== 'string' || !Object.hasOwn(callInputs, name)) return { ok: false, fault: unknownCall };
  const known = name as CallName;
  const checked = callInputs[known].safeParse(input);
  if (checked.success) return { ok: true, name: known, input: checked.data };
  const where = checked.error.issues[0]?.path.join('.') ?? '';
  const part = where === '' ? '' : ` (${where.slice(0, 200)})`;
  return {
    ok: false,
    fault: doorFault('bad-call', `The page asked "${known}" in a way the desk does not know${part}.`, reloadStep),
  };
}

const reloadStep = 'Reload the page; your session is saved.';
const unknownCall = doorFault('bad-call', 'The page asked for something the desk does not know.', reloadStep);

/** Does a checked call; whatever is thrown becomes a fault, with nothing of the program's inside in it. */
export async function doCall(host: DeskDoorHost, name: CallName, input: unknown): Promise<DoorAnswer> {
  try {
    return await host.call(name, input);
  } catch (error) {
    return { ok: false, fault: faultViewOf(error) };
  }
}

/** Any error as a fault for the page. A defect is written to the program's own error output and told without its inside. */
export function faultViewOf(error: unknown): FaultView {
  if (error instanceof PartsongError) return doorFault(error.code, error.message, error.nextStep, error.file ?? null);
  if (error instanceof CancelledError) return doorFault('cancelled', error.message, 'Start it again when you like.');
  noteTrouble('a call failed', error);
  return doorFault(
    'unexpected',
    'Something went wrong that Partsong did not expect.',
    'Your session is saved. Try again; if it happens again, close the session and open it anew.',
  );
}

/** Something that keeps the desk at work until it is done, even when nobody looks. */
export function isRendering(host: DeskDoorHost): boolean {
  return host.view()?.jobs.some(({ kind }) => kind === 'render' || kind === 'picture' || kind === 'guide') ?? false;
}
