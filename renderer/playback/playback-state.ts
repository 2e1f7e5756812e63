import { create } from 'zustand';
import type { Listen } from '../../app/shell/contract/desk-view.ts';
import { keep, kept } from '../parts/kept.ts';

/** What the screen shows of the playback. Session frames count 48 000 a second. */
export interface PlaybackState {
  readonly playing: boolean;
  /** Session frame, coarse (some 10 times a second); `thePlayer().positionFrame()` is smooth. */
  readonly positionFrame: number;
  readonly loop: { readonly fromFrame: number; readonly toFrame: number } | null;
  /** Level in the headphones, dB; 0 is full. It does not change the mix. */
  readonly volumeDb: number;
  /** Voices heard alone; empty: all. */
  readonly alone: readonly string[];
  /** One take heard before, after, or as what was taken away; null: the mix. */
  readonly audition: {
    readonly takeId: string;
    readonly listen: Listen;
    readonly onlyIt: boolean;
    /** Before mending instead of before cleaning. */
    readonly unmended?: boolean;
  } | null;
  readonly devices: readonly { readonly id: string; readonly label: string }[];
  readonly deviceId: string;
  /** Why the sound device cannot be chosen here, a sentence; null when it can. */
  readonly deviceNote: string | null;
  /** The headphone caution was read and put away. */
  readonly cautionRead: boolean;
  /** Waiting for sound that is not there yet. */
  readonly starved: boolean;
}

const CAUTION_KEY = 'headphone-caution';

/** Remembers that the caution was put away. */
export function rememberCautionRead(): void {
  keep(CAUTION_KEY, 'read');
}

export const usePlayback = create<PlaybackState>(() => ({
  playing: false,
  positionFrame: 0,
  loop: null,
  volumeDb: -20,
  alone: [],
  audition: null,
  devices: [],
  deviceId: '',
  deviceNote: null,
  cautionRead: kept(CAUTION_KEY) === 'read',
  starved: false,
}));
