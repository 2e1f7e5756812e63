import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

/** Debian's FFmpeg, also where another would be found before it: the one that is kept ready (`ready-ffmpeg`) where there is one. */
export const debianFfmpeg = process.env['PARTSONG_KEPT_FFMPEG'] ?? '/usr/bin/ffmpeg';

/**
 * The outside judges: Debian's packages that some tests hold our numbers against. Files named `*.judge.test.ts` need
 * them. On CI (PARTSONG_OUTSIDE_JUDGES=required) a missing judge fails the run; elsewhere those files are left out, and
 * the run says so.
 */
const judges: readonly { name: string; there: () => boolean }[] = [
  { name: 'ffmpeg (Debian package ffmpeg)', there: () => runs('ffmpeg', ['-version']) },
  { name: 'ffprobe (Debian package ffmpeg)', there: () => runs('ffprobe', ['-version']) },
  { name: 'aubioonset (Debian package aubio-tools)', there: () => runs('aubioonset', ['--help']) },
  { name: 'fluidsynth (Debian package fluidsynth)', there: () => runs('fluidsynth', ['--version']) },
  {
    name: 'FluidR3 (Debian package fluid-soundfont-gm)',
    there: () => existsSync('/usr/share/sounds/sf2/FluidR3_GM.sf2'),
  },
  { name: 'libebur128 (Debian package libebur128-dev)', there: () => existsSync('/usr/include/ebur128.h') },
  { name: 'a C compiler (Debian package gcc)', there: () => runs('cc', ['--version']) },
  { name: 'chromium (Debian package chromium)', there: () => existsSync('/usr/bin/chromium') },
];

function runs(command: string, args: readonly string[]): boolean {
  return spawnSync(command, args, { stdio: 'ignore' }).error === undefined;
}

/** Names of the judges that are not on this machine. */
export function missingJudges(): string[] {
  return judges.filter((judge) => !judge.there()).map((judge) => judge.name);
}
