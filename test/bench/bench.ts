import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type AnalysisBenchReading, benchAnalysis } from './analysis-bench.ts';
import { type AnalysisRequest, runAnalysis } from './analysis-run.ts';
import { LEAK_DB } from './bench-ensemble.ts';
import { type BenchInput, makeBenchTake } from './bench-take.ts';
import { benchDesk } from './desk-bench.ts';
import { benchGuide, type GuideReading } from './guide-bench.ts';
import { benchLanes } from './lanes-bench.ts';
import { benchPicture } from './picture-bench.ts';

/**
 * Speed and memory of whole processes, ours beside FFmpeg's filters doing the same, interleaved in one run.
 * `npm run bench -- [--rounds N] [--json FILE] [--only NAME] [--length SEC]`. A ratio is peer / ours in CPU seconds: above 1 is faster.
 */
interface Job {
  readonly name: string;
  /** The least ratio we hold ourselves to; absent where there is none. */
  readonly goal?: number;
  readonly what: string;
  readonly ours: readonly string[];
  readonly peer: readonly string[];
}

interface Ratio {
  readonly name: string;
  readonly oursSec: number;
  readonly peerSec: number;
  readonly ratio: number;
}

const partsong = [process.execPath, fileURLToPath(new URL('./partsong.js', import.meta.url))];
const option = (name: string): string | undefined => {
  const at = process.argv.indexOf(name);
  return at < 0 ? undefined : process.argv[at + 1];
};
const rounds = Number(option('--rounds') ?? 5);
const only = option('--only');

const folder = mkdtempSync(join(tmpdir(), 'partsong-bench-'));
try {
  const analyse = option('--analyse');
  // What benchAnalysis measures: a process of its own.
  if (analyse !== undefined)
    process.stdout.write(JSON.stringify(await runAnalysis(JSON.parse(analyse) as AnalysisRequest)));
  // The screen's frames need no clips and no FFmpeg.
  else if (only === 'lanes') await benchLanes((line) => process.stdout.write(`${line}\n`));
  else if (only === 'desk') await benchDesk((line) => process.stdout.write(`${line}\n`));
  else if (only === 'guide') guideReading();
  else if (only === 'picture') await pictureReading();
  else if (only === 'analysis') await analysisReading();
  else await main();
} finally {
  rmSync(folder, { recursive: true, force: true });
}

async function main(): Promise<void> {
  if (spawnSync('ffmpeg', ['-version']).error !== undefined) {
    throw new Error('the bench holds us against the system FFmpeg, which is not on this machine');
  }
  process.stdout.write(
    `${availableParallelism()} cores, load ${loadavg()[0]!.toFixed(1)}, ${rounds} rounds; median CPU seconds of whole processes\n`,
  );
  const long = join(folder, 'long.wav');
  makeBenchTake({ path: long, lengthSec: 600, seed: 1, pitchHz: 262, startSec: 3 });
  const voices = [196, 262, 330, 392, 131, 98].map((pitchHz, index): BenchInput => {
    const path = join(folder, `voice ${index + 1}.wav`);
    return { path, lengthSec: 240, seed: 10 + index, pitchHz, startSec: 3 };
  });
  if (only === undefined || only.startsWith('mix')) for (const voice of voices) makeBenchTake(voice);
  const ratios: Ratio[] = [];
  for (const job of jobs(
    long,
    voices.map((voice) => voice.path),
  )) {
    if (only === undefined || only === job.name) ratios.push(race(job));
  }
  const lanes = only === undefined ? await benchLanes((line) => process.stdout.write(`${line}\n`)) : undefined;
  const desk = only === undefined ? await benchDesk((line) => process.stdout.write(`${line}\n`)) : undefined;
  const guide = only === undefined ? guideReading() : undefined;
  const picture = only === undefined ? await pictureReading() : undefined;
  const analysis = only === undefined ? await analysisReading() : undefined;
  const memory = only === undefined || only === 'memory' ? await peakMemory() : undefined;
  const file = option('--json');
  if (file !== undefined)
    writeFileSync(file, `${JSON.stringify({ ratios, memory, lanes, desk, guide, picture, analysis }, undefined, 2)}\n`);
}

/** `--length SEC` (180), `--rounds N` (2 at most are worth their time). */
function pictureReading() {
  const lengthSec = Number(option('--length') ?? 180);
  const print = (line: string): void => void process.stdout.write(`${line}\n`);
  return benchPicture(partsong, join(folder, 'picture'), { rounds: Math.min(rounds, 2), lengthSec }, print);
}

/** `--length SEC` (300), `--leak DB` below the guide, or `none`. */
function analysisReading(): Promise<AnalysisBenchReading> {
  const bench = [process.execPath, fileURLToPath(new URL('./bench.js', import.meta.url))];
  const print = (line: string): void => void process.stdout.write(`${line}\n`);
  const lengthSec = Number(option('--length') ?? 300);
  const leak = option('--leak');
  const leakDb = leak === undefined ? LEAK_DB : leak === 'none' ? null : Number(leak);
  return benchAnalysis(partsong, bench, join(folder, 'analysis'), { lengthSec, leakDb }, cpuSecondsOf, print);
}

function guideReading(): GuideReading {
  return benchGuide(partsong, cpuSecondsOf, (line) => process.stdout.write(`${line}\n`));
}

function jobs(long: string, voices: readonly string[]): Job[] {
  const quiet = ['ffmpeg', '-hide_banner', '-nostdin', '-nostats', '-loglevel', 'error', '-y'];
  const inputs = voices.flatMap((path) => ['-i', path]);
  const cleaned = voices.map((_, n) => `[${n}:a]afftdn=nr=20:nf=-50[c${n}]`).join(';');
  const joined = voices.map((_, n) => `[c${n}]`).join('');
  const graph = `${cleaned};${joined}amix=inputs=${voices.length},aformat=channel_layouts=stereo,alimiter=limit=0.89,ebur128=peak=true`;
  return [
    {
      name: 'clean',
      goal: 2,
      what: '10 min mono: silence found, noise learnt, cleaned, measured, written; peer afftdn',
      ours: [...partsong, 'clean', long, '--out', join(folder, 'ours.wav')],
      peer: [...quiet, '-i', long, '-af', 'afftdn=nr=20:nf=-50', '-c:a', 'pcm_f32le', join(folder, 'peer.wav')],
    },
    {
      name: 'loudness',
      goal: 1.5,
      what: '10 min mono: I, LRA, M, S, true peak; peer ebur128=peak=true',
      ours: [...partsong, 'loudness', long, '--json'],
      peer: [...quiet, '-i', long, '-af', 'ebur128=peak=true', '-f', 'null', '-'],
    },
    {
      name: 'mix',
      goal: 1.5,
      what: `${voices.length} voices of 4 min: the whole of "partsong mix"; peer afftdn each, amix, alimiter, ebur128`,
      ours: [...partsong, 'mix', ...voices, '--out', join(folder, 'mix'), '--copy', 'none', '--json'],
      peer: [...quiet, ...inputs, '-filter_complex', graph, '-c:a', 'pcm_s24le', join(folder, 'peer-mix.wav')],
    },
    {
      name: 'mix-one-thread',
      what: 'the same against the peer held to one filter thread, which costs it less; told beside, without a goal',
      ours: [...partsong, 'mix', ...voices, '--out', join(folder, 'mix'), '--copy', 'none', '--json'],
      peer: [
        ...quiet,
        ...inputs,
        ...['-filter_complex_threads', '1', '-filter_complex', graph, '-c:a', 'pcm_s24le'],
        join(folder, 'peer-mix.wav'),
      ],
    },
  ];
}

function race(job: Job): Ratio {
  const ours: number[] = [];
  const peer: number[] = [];
  for (let round = 0; round < rounds; round++) {
    const order = round % 2 === 0 ? ([ours, peer] as const) : ([peer, ours] as const);
    for (const list of order) {
      rmSync(join(folder, 'mix'), { recursive: true, force: true });
      list.push(cpuSecondsOf(list === ours ? job.ours : job.peer));
    }
  }
  const oursSec = median(ours);
  const peerSec = median(peer);
  const ratio = peerSec / oursSec;
  const goal = job.goal === undefined ? '' : ` (goal ${job.goal}${ratio >= job.goal ? '' : ', missed'})`;
  process.stdout.write(
    `${job.name.padEnd(9)} ours ${oursSec.toFixed(2)} s, peer ${peerSec.toFixed(2)} s, ratio ${ratio.toFixed(2)}${goal}: ${job.what}\n`,
  );
  return { name: job.name, oursSec, peerSec, ratio };
}

/** User and system seconds of a command and all it started. */
function cpuSecondsOf(command: readonly string[]): number {
  const run = spawnSync('bash', ['-c', 'TIMEFORMAT="cpu %U %S"; time "$@"', 'bash', ...command], { encoding: 'utf8' });
  const times = /cpu ([\d.]+) ([\d.]+)/.exec(run.stderr);
  if (run.status !== 0 || times === null)
    throw new Error(`${command.join(' ')} ended with ${run.status}: ${run.stderr}`);
  return Number(times[1]) + Number(times[2]);
}

/** Greatest resident memory of `partsong mix` on 6 takes of 10 min and of 2.5 min, MiB: it must not grow with length. */
async function peakMemory(): Promise<{ shortMib: number; longMib: number }> {
  const measured: number[] = [];
  for (const lengthSec of [150, 600]) {
    const clips = Array.from({ length: 6 }, (_, n) => join(folder, `m${n}.wav`));
    clips.forEach((path, n) => {
      makeBenchTake({ path, lengthSec, seed: 20 + n, pitchHz: 110 * (n + 1), startSec: 3 });
    });
    const out = join(folder, 'memory-mix');
    mkdirSync(out, { recursive: true });
    measured.push(await peakResidentMib([...partsong, 'mix', ...clips, '--out', out, '--copy', 'none']));
    rmSync(out, { recursive: true, force: true });
  }
  const [shortMib, longMib] = [measured[0]!, measured[1]!];
  process.stdout.write(
    `memory    6 takes of 2.5 min ${shortMib.toFixed(0)} MiB, of 10 min ${longMib.toFixed(0)} MiB (goal below 300, and no more than 10 MiB apart)\n`,
  );
  return { shortMib, longMib };
}

function peakResidentMib(command: readonly string[]): Promise<number> {
  return new Promise((resolve, reject) => {
    const child = spawn(command[0]!, command.slice(1), { stdio: ['ignore', 'ignore', 'inherit'] });
    let peakKib = 0;
    const watch = setInterval(() => {
      try {
        const status = readFileSync(`/proc/${child.pid}/status`, 'utf8');
        peakKib = Math.max(peakKib, Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0));
      } catch {
        // The process has just ended: its last reading stands.
      }
    }, 50);
    child.on('error', reject);
    child.on('exit', (code) => {
      clearInterval(watch);
      if (code === 0) resolve(peakKib / 1024);
      else reject(new Error(`${command.join(' ')} ended with ${code}`));
    });
  });
}

function median(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;
}
