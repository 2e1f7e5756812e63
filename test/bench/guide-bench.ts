import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sixVoiceMidi } from './six-voices.ts';

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
    writeFileSync(score, sixVoiceMidi(300));
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
