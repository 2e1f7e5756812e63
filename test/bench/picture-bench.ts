import { spawn, spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Random } from '../../core/signal/random.ts';
import { makeSession } from '../app/picture/session-kit.ts';

/** What "partsong picture" costs over the FFmpeg command that it prints, run bare. */
export interface PictureReading {
  readonly clips: number;
  readonly lengthSec: number;
  /** Wall and CPU time of whole processes with their children, s; one a round. */
  readonly oursSec: readonly number[];
  readonly bareSec: readonly number[];
  readonly oursCpuSec: readonly number[];
  readonly bareCpuSec: readonly number[];
  /** Ours over bare, share of wall time: medians. */
  readonly overhead: number;
  /** Greatest resident memory of our own process, MB. */
  readonly ownMb: number;
}

const CLIPS = 6;
const PART_SEC = 20;
/** Goals: at most this share of wall time more, and this much memory, MB. */
const OVERHEAD_GOAL = 0.05;
const OWN_GOAL_MB = 300;

/**
 * Six clips of 720p on a canvas of 720p: `lengthSec` of the whole job, and the same FFmpeg command by itself, in turn.
 * `partsong`: the command and its first arguments.
 */
export async function benchPicture(
  partsong: readonly string[],
  folder: string,
  options: { readonly rounds: number; readonly lengthSec: number },
  print: (line: string) => void,
): Promise<PictureReading> {
  const { rounds, lengthSec } = options;
  const session = makeLongSession(folder, lengthSec);
  const target = join(folder, 'video.mp4');
  const args = ['picture', session, '--out', target, '--canvas', '1280x720', '--speed', 'usual'];
  const planned = spawnSync(partsong[0]!, [...partsong.slice(1), ...args, '--plan', '--json'], { encoding: 'utf8' });
  const { command } = JSON.parse(planned.stdout) as { command: string };
  const ours: Timed[] = [];
  const bare: Timed[] = [];
  for (let round = 0; round < rounds; round++) {
    ours.push(await timed(partsong[0]!, [...partsong.slice(1), ...args, '--json']));
    rmSync(target, { force: true });
    bare.push(await timed('/bin/sh', ['-c', `exec ${command}`]));
    rmSync(target, { force: true });
    print(
      `picture, round ${round + 1}: ours ${ours.at(-1)!.wallSec.toFixed(1)} s (${ours.at(-1)!.cpuSec.toFixed(1)} s CPU), bare ${bare.at(-1)!.wallSec.toFixed(1)} s (${bare.at(-1)!.cpuSec.toFixed(1)} s CPU)`,
    );
  }
  const overhead = median(ours.map(({ wallSec }) => wallSec)) / median(bare.map(({ wallSec }) => wallSec)) - 1;
  const cpu = median(ours.map(({ cpuSec }) => cpuSec)) / median(bare.map(({ cpuSec }) => cpuSec)) - 1;
  const ownMb = Math.max(...ours.map((one) => one.ownMb));
  print(
    `picture: ${CLIPS} clips of 720p, ${lengthSec} s: ${(100 * overhead).toFixed(1)} % over the bare graph in wall time (goal ${100 * OVERHEAD_GOAL} %), ${(100 * cpu).toFixed(1)} % in CPU time; our process ${ownMb.toFixed(0)} MB (goal ${OWN_GOAL_MB} MB)`,
  );
  return {
    ...{ clips: CLIPS, lengthSec, overhead, ownMb },
    oursSec: ours.map(({ wallSec }) => wallSec),
    bareSec: bare.map(({ wallSec }) => wallSec),
    oursCpuSec: ours.map(({ cpuSec }) => cpuSec),
    bareCpuSec: bare.map(({ cpuSec }) => cpuSec),
  };
}

/** Clips whose pictures are as hard to code as a phone's: moving, with the sensor's noise; one is made, and joined to itself. */
function makeLongSession(folder: string, lengthSec: number): string {
  mkdirSync(folder, { recursive: true });
  const part = join(folder, 'part.mp4');
  const picture = `mandelbrot=s=1280x720:r=30:end_scale=0.02,noise=alls=8:allf=t`;
  const sound = `anoisesrc=a=0.1:d=${PART_SEC}:seed=4,lowpass=f=3000`;
  const coded = [
    '-c:v',
    'libx264',
    '-preset',
    'ultrafast',
    '-b:v',
    '8M',
    '-g',
    '30',
    '-pix_fmt',
    'yuv420p',
    '-c:a',
    'aac',
  ];
  const first = join(folder, 'clip 1.mp4');
  if (!existsSync(first)) {
    run(['-f', 'lavfi', '-i', picture, '-f', 'lavfi', '-i', sound, '-t', String(PART_SEC), ...coded, part]);
    const list = join(folder, 'parts.txt');
    writeFileSync(list, `file part.mp4\n`.repeat(Math.ceil((lengthSec + 2) / PART_SEC)));
    run(['-f', 'concat', '-i', list, '-c', 'copy', first]);
    for (let n = 2; n <= CLIPS; n++) copyFileSync(first, join(folder, `clip ${n}.mp4`));
  }
  const session = join(folder, 'session');
  const random = new Random(7);
  const mix = [0, 1].map(() => Float32Array.from({ length: (lengthSec + 1) * 48000 }, () => 0.05 * random.gaussian()));
  makeSession(session, {
    voices: Array.from({ length: CLIPS }, (_, n) => ({
      name: `voice ${n + 1}`,
      clip: join(folder, `clip ${n + 1}.mp4`),
      offsetSec: n / 30,
    })),
    mix,
    music: { fromSec: 0.5, toSec: lengthSec + 0.5 },
  });
  return session;
}

function run(args: readonly string[]): void {
  const { status, stderr } = spawnSync('ffmpeg', ['-v', 'error', '-y', ...args], { encoding: 'utf8' });
  if (status !== 0) throw new Error(stderr);
}

interface Timed {
  readonly wallSec: number;
  readonly cpuSec: number;
  readonly ownMb: number;
}

/** Runs a command; its CPU time with its children, and the most resident memory of the process itself. */
function timed(command: string, args: readonly string[]): Promise<Timed> {
  const begun = performance.now();
  const child = spawn(command, args, { stdio: ['ignore', 'ignore', 'pipe'] });
  child.stderr.resume();
  let ownMb = 0;
  let ticks = 0;
  const look = (): void => {
    try {
      const status = readFileSync(`/proc/${child.pid}/status`, 'utf8');
      ownMb = Math.max(ownMb, Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0) / 1024);
      ticks = Math.max(ticks, ticksOf(child.pid!));
    } catch {
      // It is gone.
    }
  };
  const watch = setInterval(look, 100);
  return new Promise((settle, fail) => {
    child.on('exit', (code) => {
      clearInterval(watch);
      if (code !== 0) fail(new Error(`${command} ${args.join(' ')} ended with ${code}`));
      else settle({ wallSec: (performance.now() - begun) / 1000, cpuSec: ticks / 100, ownMb });
    });
  });
}

/** CPU time of a process and of its children that are there or have ended, in clock ticks of 10 ms. */
function ticksOf(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ');
  const own = fields.slice(11, 15).reduce((sum, field) => sum + Number(field), 0);
  const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8')
    .trim()
    .split(' ')
    .filter((id) => id !== '');
  return (
    own +
    children.reduce(
      (sum, id) => sum + (statSync(`/proc/${id}`, { throwIfNoEntry: false }) ? ticksOf(Number(id)) : 0),
      0,
    )
  );
}

function median(values: readonly number[]): number {
  const sorted = values.toSorted((one, other) => one - other);
  return (sorted[Math.floor((sorted.length - 1) / 2)]! + sorted[Math.ceil((sorted.length - 1) / 2)]!) / 2;
}
