import type { FaultView } from '../../app/shell/contract/desk-view.ts';

/** A call the desk refused; `fault` says what happened and what to do. */
export class BridgeFault extends Error {
  override readonly name = 'BridgeFault';
  readonly fault: FaultView;

  constructor(fault: FaultView) {
    super(fault.message);
    this.fault = fault;
  }
}

/** Any error as a fault for the screen. */
export function faultOf(error: unknown): FaultView {
  if (error instanceof BridgeFault) return error.fault;
  const why = error instanceof Error ? error.message : String(error);
  return {
    code: 'unexpected',
    message: `Something went wrong that Partsong did not expect: ${why}.`,
    nextStep: 'Your session is saved. Try again; if it happens again, close the session and open it anew.',
    file: null,
  };
}
