import type { PlaybackState } from './playback-state.ts';

export { type PlaybackState, usePlayback } from './playback-state.ts';
export { thePlayer } from './the-player.ts';

/** Loudness of what is heard, some 20 times a second. */
export interface PlayedLevels {
  readonly momentaryLufs: number;
  readonly shortTermLufs: number;
  /** Largest sample of each voice since the last call, with its gain, linear, by voice id; 0 where it is not heard. */
  readonly voicePeaks: Readonly<Record<string, number>>;
  /** How far the limiter turns down, dB. */
  readonly limiterDb: number;
}

/** The one player of the page. */
export interface Player {
  /** Only from a gesture of the user: a browser holds sound back until then. */
  play(): Promise<void>;
  /** Stops where it is. */
  pause(): void;
  /** Session frame; while playing it goes on from there. */
  seek(frame: number): void;
  /** Repeats a stretch of 50 ms or more; while playing from elsewhere it jumps to its start. null: no more. */
  setLoop(loop: PlaybackState['loop']): void;
  /** Level in the headphones, dB, -60 to 0. */
  setVolume(volumeDb: number): void;
  setAlone(voiceIds: readonly string[]): void;
  setAudition(audition: PlaybackState['audition']): void;
  setDevice(deviceId: string): Promise<void>;
  refreshDevices(): Promise<void>;
  readCaution(): void;
  /** Session frame of the sound that is at the ear now; smooth, may be fractional. */
  positionFrame(): number;
  /** Time-domain samples of what is heard, for the spectrum; false while there is no sound. */
  heard(target: Float32Array<ArrayBuffer>): boolean;
  onLevels(listener: (levels: PlayedLevels) => void): () => void;
  /** From a change to the ear beyond this code's own 6 ms, s, as the browser tells; null before the first play. */
  latencySec(): number | null;
}
