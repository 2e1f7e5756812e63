import { create } from 'zustand';
import type { Listen } from '../../app/shell/contract/desk-view.ts';

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
  readonly audition: { readonly takeId: string; readonly listen: Listen; readonly onlyIt: boolean } | null;
  readonly devices: readonly { readonly id: string; readonly label: string }[];
  readonly deviceId: string;
  /** The headphone caution was read and put away. */
  readonly cautionRead: boolean;
  /** Waiting for sound that is not there yet. */
  readonly starved: boolean;
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
  cautionRead: false,
  starved: false,
}));

/** Loudness of what is heard, some 20 times a second. */
export interface PlayedLevels {
  readonly momentaryLufs: number;
  readonly shortTermLufs: number;
  /** Largest sample of each voice since the last call, linear, by voice id. */
  readonly voicePeaks: Readonly<Record<string, number>>;
  /** How far the limiter turns down, dB. */
  readonly limiterDb: number;
}

/** The one player of the page. */
export interface Player {
  play(): Promise<void>;
  pause(): void;
  /** Session frame; while playing it goes on from there. */
  seek(frame: number): void;
  setLoop(loop: PlaybackState['loop']): void;
  setVolume(volumeDb: number): void;
  setAlone(voiceIds: readonly string[]): void;
  setAudition(audition: PlaybackState['audition']): void;
  setDevice(deviceId: string): Promise<void>;
  readCaution(): void;
  /** Where the sound is that is heard now; smooth. */
  positionFrame(): number;
  /** Time-domain samples of what is heard, for the spectrum; false while there is no sound. */
  heard(target: Float32Array<ArrayBuffer>): boolean;
  onLevels(listener: (levels: PlayedLevels) => void): () => void;
}
