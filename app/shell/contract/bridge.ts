import type { CallInput, CallName, CallOutput } from './calls.ts';
import type { FaultView } from './desk-view.ts';
import type { DeskEvent } from './events.ts';

/** One function a call. Each rejects with an Error whose `fault` is a FaultView when the desk refuses. */
export type BridgeCalls = { readonly [Name in CallName]: (input: CallInput<Name>) => Promise<CallOutput<Name>> };

/** The desk as a page sees it, whichever door it came through. */
export interface Bridge {
  readonly door: 'window' | 'browser';
  readonly calls: BridgeCalls;
  /** Events in order; returns how to stop listening. */
  onEvent(listener: (event: DeskEvent) => void): () => void;
  /** The desk went away (closed, or the connection is lost). */
  onLost(listener: () => void): () => void;
  /** Whether the desk answers now; never rejects. */
  isThere(): Promise<Presence>;
  /** The address of a piece of media; `route` as in media.ts, such as 'wave/take-1/before/0'. */
  mediaUrl(route: string): string;
  /**
   * Paths for files that were dropped or chosen in the page. In the window these are their own paths; from a browser, which
   * hides paths, each is sent to the session's folder first. `onProgress`: fraction of all bytes.
   */
  pathsOf(files: readonly File[], onProgress: (fraction: number) => void): Promise<string[]>;
}

/** 'stranger': a desk answers, but does not know this page, as after a new start. */
export type Presence = 'there' | 'stranger' | 'gone';

/** What the preload puts into the window's page. */
export interface WindowDoor {
  readonly calls: { readonly [Name in CallName]: (input: unknown) => Promise<DoorAnswer> };
  onEvent(listener: (event: DeskEvent) => void): () => void;
  pathOf(file: File): string;
}

/** How an answer crosses a door: faults travel as values. */
export type DoorAnswer =
  | { readonly ok: true; readonly value: unknown }
  | { readonly ok: false; readonly fault: FaultView };
