import type { DoorAnswer } from '../contract/bridge.ts';
import { type CallName, callNames } from '../contract/calls.ts';
import { checkCall, doCall, doorFault } from '../door-fault.ts';
import type { DeskDoorHost } from '../door-host.ts';
import { channelOf } from './channels.ts';
import { isPageAddress } from './own-address.ts';

/** Who sent a message, as Electron tells it. */
export interface Sender {
  readonly sender: { readonly id: number };
  /** Null when the frame has gone or gone elsewhere since. */
  readonly senderFrame: { readonly url: string; readonly parent: unknown } | null;
}

export interface CallReceiver {
  handle(channel: string, listener: (event: Sender, ...values: unknown[]) => Promise<DoorAnswer>): void;
  removeHandler(channel: string): void;
}

/** Calls that the window answers itself, with the system's own dialogs. */
export type OwnCalls = { readonly [Name in CallName]?: (input: never) => Promise<DoorAnswer> };

/**
 * Serves every call to the page of one window, and to nothing else: a frame within it, another window or another address
 * is turned away, and what comes is checked as in a browser. Returns how to stop.
 */
export function serveCalls(
  receiver: CallReceiver,
  host: DeskDoorHost,
  own: OwnCalls,
  isOurWindow: (webContentsId: number) => boolean,
): () => void {
  for (const name of callNames) {
    receiver.handle(channelOf(name), async (event, input) => {
      const { sender, senderFrame } = event;
      const isPage = senderFrame !== null && senderFrame.parent === null && isPageAddress(senderFrame.url);
      if (!isPage || !isOurWindow(sender.id)) return { ok: false, fault: notAdmitted };
      const checked = checkCall(name, input);
      if (!checked.ok) return checked;
      const answerOwn = own[name] as ((input: unknown) => Promise<DoorAnswer>) | undefined;
      return answerOwn === undefined ? doCall(host, name, checked.input) : answerOwn(checked.input);
    });
  }
  return () => {
    for (const name of callNames) receiver.removeHandler(channelOf(name));
  };
}

const notAdmitted = doorFault('not-admitted', 'Another page than the desk itself has asked.', 'Close that page.');
