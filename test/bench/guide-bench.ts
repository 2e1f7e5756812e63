import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeMidi } from 'midi-file';
import { Random } from '../../core/signal/random.ts';

/** CPU seconds of a guide of 5 min and 6 voices as WAV, and of a video of 3 min; both goals are the work's own. */
const SOUND_GOAL_SEC = 5;
const VIDEO_GOAL_SEC = 20;

export interface GuideReading {
  readonly soundSec: number;
  readonly videoSec: number;
}

/** Measures `partsong guide`. cpuSecondsOf: user and system seconds of a command; partsong: how to start it. */
export function benchGuide(
  partsong: readonly string[],
  cpuSecondsOf: (command: readonly string[]) => number,
  say: (line: string) => void,
): GuideReading {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-bench-'));
  try {
    const score = join(folder, 'six.mid');
    writeFileSync(score, Uint8Array.from(writeMidi(sixVoices(300))));
    const guide = [...partsong, 'guide', '--out', folder];
    const soundSec = cpuSecondsOf([...guide, score, '--format', 'wav']);
    const click = ['--tempo', '96', '--bars', '66', '--cue', 'both', '--format', 'mp4'];
    const videoSec = cpuSecondsOf([...guide, ...click]);
    const verdict = (sec: number, goal: number): string =>
      `${sec.toFixed(1)} s of CPU (goal ${goal}${sec < goal ? '' : ', missed'})`;
    say(`guide     5 min, 6 voices as WAV ${verdict(soundSec, SOUND_GOAL_SEC)}`);
    say(`video     guide video of 3 min ${verdict(videoSec, VIDEO_GOAL_SEC)}`);
    return { soundSec, videoSec };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Six voices of quarters, eighths and halves at 120 a minute, each with an instrument of another family. */
function sixVoices(lengthSec: number): Parameters<typeof writeMidi>[0] {
  const tracks = [73, 71, 48, 52, 24, 42].map((programNumber, channel) => {
    const random = new Random(40 + channel);
    const events: object[] = [{ deltaTime: 0, type: 'programChange', channel, programNumber }];
    for (let at = 0; at < 4 * lengthSec; ) {
      const eighths = [1, 2, 2, 4][Math.floor(4 * random.uniform())]!;
      const noteNumber = 76 - 6 * channel + [0, 2, 4, 5, 7, 9][Math.floor(6 * random.uniform())]!;
      events.push({ deltaTime: 0, type: 'noteOn', channel, noteNumber, velocity: 80 });
      events.push({ deltaTime: 120 * eighths, type: 'noteOff', channel, noteNumber, velocity: 0 });
      at += eighths;
    }
    events.push({ deltaTime: 0, meta: true, type: 'endOfTrack' });
    return events;
  });
  return { header: { format: 1, numTracks: 6, ticksPerBeat: 240 }, tracks } as Parameters<typeof writeMidi>[0];
}
