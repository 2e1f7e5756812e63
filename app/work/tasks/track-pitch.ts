import { heardNotes } from '../../../core/pitch/heard-notes.ts';
import { PitchTracker } from '../../../core/pitch/pitch-tracker.ts';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import { secondPitch } from '../../../core/pitch/second-pitch.ts';
import type { TrackedPitch } from '../../../core/pitch/tracked-pitch.ts';
import { throwIfCancelled } from '../../../core/signal/fault.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import type { TaskControl } from '../control.ts';
import { openLaid } from '../laid-sound.ts';
import { openSound, SoundFileWriter } from '../sound-file.ts';

export interface TrackPitchRequest {
  readonly soundPath: string;
  readonly rateHz: number;
  /** Where the pitch of each frame goes: float32 little endian, Hz, NaN where there is none. */
  readonly curvePath: string;
}

const BLOCK_FRAMES = 16384;
/** Rates the tracker takes, Hz. */
const LOWEST_RATE_HZ = 8000;
const HIGHEST_RATE_HZ = 384000;

/** Follows the pitch of a take and parts it into notes. */
export async function trackPitch(request: TrackPitchRequest, control: TaskControl): Promise<TrackedPitch> {
  const { soundPath, rateHz, curvePath } = request;
  const isOwn = rateHz >= LOWEST_RATE_HZ && rateHz <= HIGHEST_RATE_HZ;
  const sound = isOwn
    ? openSound(soundPath, rateHz)
    : openLaid({ soundPath, rateHz, place: { offsetSec: 0, driftPpm: 0 } });
  try {
    const tracker = new PitchTracker(isOwn ? rateHz : SESSION_RATE_HZ);
    const buffer = new Float32Array(BLOCK_FRAMES);
    for (let from = 0; from < sound.lengthFrames; from += BLOCK_FRAMES) {
      throwIfCancelled(control.cancel);
      const samples = buffer.subarray(0, Math.min(BLOCK_FRAMES, sound.lengthFrames - from));
      sound.read(from, samples);
      tracker.add([samples]);
      control.onProgress(from / sound.lengthFrames);
      await control.breathe();
    }
    const track = tracker.result();
    const verdict = pitchVerdict(track, () => secondPitch(sound, track));
    const writer = new SoundFileWriter(curvePath);
    writer.write(Float32Array.from(track.hz));
    writer.close();
    return {
      hopSec: track.hopSec,
      firstSec: track.firstSec,
      frames: track.hz.length,
      verdict,
      notes: verdict.kind === 'pitched' || verdict.kind === 'unsure' ? heardNotes(track) : [],
    };
  } finally {
    sound.close();
  }
}
