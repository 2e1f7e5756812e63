import type { DoorAnswer } from './contract/bridge.ts';
import type { CallName } from './contract/calls.ts';
import type { DeskView } from './contract/desk-view.ts';
import type { DeskEvent } from './contract/events.ts';

/** What a door needs of the desk behind it. One host serves all pages of its door. */
export interface DeskDoorHost {
  /**
   * Does a call. The door has checked `input` with `callInputs[name]` already. Faults are values; a rejection is a defect of
   * Partsong and is told as such. The window answers pickFiles, pickFolder and reveal itself; here they give null.
   */
  call(name: CallName, input: unknown): Promise<DoorAnswer>;
  /** Events in order; returns how to stop listening. */
  onEvent(listener: (event: DeskEvent) => void): () => void;
  /**
   * A piece of media; null when there is none by that route. `route` is as in contract/media.ts with its query, each path
   * segment still percent-encoded; the door has made sure that no segment is empty, '.' or '..', or holds a slash, a
   * backslash or NUL once decoded.
   */
  media(route: string): Promise<DoorMedia | null>;
  /** The open session as it is now; null when none is open. Cheap. */
  view(): DeskView | null;
  /** Stops all work, saves, lets the session go. */
  close(): Promise<void>;
}

/** Bytes behind a route. */
export interface DoorMedia {
  /** Such as 'application/octet-stream' or 'video/mp4'. */
  readonly type: string;
  readonly totalBytes: number;
  /** Bytes from `fromByte` up to, but not including, `toByte`; reading ends early when `stop` is aborted. */
  read(fromByte: number, toByte: number, stop: AbortSignal): AsyncIterable<Uint8Array>;
}
