import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { draw } from '../../core/picture/drawings.ts';
import type { PictureOutput } from '../../core/picture/output-arguments.ts';
import { pictureArguments } from '../../core/picture/picture-command.ts';
import type { PicturePlan } from '../../core/picture/picture-plan.ts';
import { perSecond } from '../../core/picture/picture-rate.ts';
import { CancelledError, PartsongError, throwIfCancelled } from '../../core/signal/fault.ts';
import { findFfmpeg } from '../media/ffmpeg.ts';
import { ffmpegFault, fileArgument, type RunEnd, startFfmpeg } from '../media/run.ts';
import { targetFullFault, writeWhole } from '../media/whole-file.ts';
import { graphFileOption } from './abilities.ts';
import { encodePng } from './png.ts';

/** How far a render is. */
export interface PictureProgress {
  readonly picture: number;
  readonly pictures: number;
  /** Pictures made in a second of waiting; 0 at first. */
  readonly perSec: number;
  /** Seconds of video made in a second; 1 is as fast as it plays. */
  readonly speed: number;
  /** Time left, s; undefined in the first seconds. */
  readonly leftSec: number | undefined;
}

export interface RenderPictureOptions {
  readonly output: PictureOutput;
  readonly signal: AbortSignal;
  readonly onProgress: (progress: PictureProgress) => void;
}

/** What a render came to. */
export interface RenderedPicture {
  /** Pictures written. */
  readonly pictures: number;
  /** Wall time, s. */
  readonly tookSec: number;
  /** What FFmpeg complained of and went on, its own words; few. */
  readonly complaints: readonly string[];
}

/** No time left is told before this long, s: the first seconds mislead. */
const ESTIMATE_AFTER_SEC = 2;

/**
 * Renders a plan into `target`, beside it first and renamed when whole. One FFmpeg does it all; this process only draws
 * the still pictures before and reads how far it is. Throws CancelledError, PartsongError 'target-full' |
 * 'target-unwritable' | 'ffmpeg-missing' | 'ffmpeg-failed'.
 */
export async function renderPicture(
  plan: PicturePlan,
  target: string,
  options: RenderPictureOptions,
): Promise<RenderedPicture> {
  throwIfCancelled(options.signal);
  const ffmpeg = await findFfmpeg();
  const folder = await mkdtemp(join(tmpdir(), 'partsong-drawings-'));
  try {
    const paths = await writeDrawings(plan, folder, options.signal);
    const args = await withinLine(pictureArguments(plan, paths, options.output), folder, ffmpeg);
    return await writeWhole(
      target,
      async (partialPath) => {
        const counter = new PictureCounter(plan, options.onProgress);
        const run = startFfmpeg(ffmpeg, ['-progress', 'pipe:2', ...args, '-y', fileArgument(partialPath)], {
          signal: options.signal,
          onLine: (line) => counter.take(line),
        });
        run.stdin.end();
        run.stdout.resume();
        try {
          const end = await run.end;
          throwIfCancelled(options.signal);
          checkEnd(end, counter, plan, target);
          return counter.result();
        } catch (error) {
          throw options.signal.aborted ? new CancelledError() : error;
        } finally {
          await run.stop();
        }
      },
      options.signal,
    );
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

/** Longest command and longest argument that systems take, letters, with some to spare. */
const LONGEST_LINE = process.platform === 'win32' ? 30_000 : 120_000;

/** A graph of very many voices or moments goes into a file; FFmpeg reads it from there. */
export async function withinLine(
  args: readonly string[],
  folder: string,
  ffmpeg: { readonly path: string },
  longest = LONGEST_LINE,
): Promise<readonly string[]> {
  if (args.reduce((sum, arg) => sum + arg.length + 3, 0) <= longest) return args;
  const at = args.indexOf('-filter_complex');
  const path = join(folder, 'graph.txt');
  await writeFile(path, args[at + 1]!);
  return args.toSpliced(at, 2, await graphFileOption(ffmpeg), path);
}

/** Draws what the plan asks for into files; gives their paths. One drawing at a time is in memory. */
export async function writeDrawings(plan: PicturePlan, folder: string, signal?: AbortSignal): Promise<string[]> {
  const paths: string[] = [];
  for (const [index, drawing] of plan.drawings.entries()) {
    throwIfCancelled(signal);
    const path = join(folder, drawingName(index, drawing.kind));
    await writeFile(path, encodePng(draw(drawing)));
    paths.push(path);
  }
  return paths;
}

/** Name of a drawing's file. */
export function drawingName(index: number, kind: string): string {
  return `${String(index + 1).padStart(2, '0')}-${kind}.png`;
}

/** Reads FFmpeg's `-progress` lines. */
class PictureCounter {
  readonly #plan: PicturePlan;
  readonly #onProgress: (progress: PictureProgress) => void;
  readonly #begun = performance.now();
  readonly #complaints: string[] = [];
  #picture = 0;

  constructor(plan: PicturePlan, onProgress: (progress: PictureProgress) => void) {
    this.#plan = plan;
    this.#onProgress = onProgress;
  }

  take(line: string): boolean {
    const told = /^([a-z_0-9]+)=\s*(.*)$/.exec(line);
    if (told === null) {
      // Millions of the same words of one decoder are no news.
      if (this.#complaints.length < 5 && /error|corrupt|invalid|missing/i.test(line))
        this.#complaints.push(line.trim());
      return false;
    }
    if (told[1] === 'frame') this.#picture = Number(told[2]);
    if (told[1] === 'progress') this.#tell();
    return true;
  }

  #tell(): void {
    const { pictures, rate } = this.#plan;
    const picture = Math.min(pictures, this.#picture);
    const elapsed = (performance.now() - this.#begun) / 1000;
    const perSec = elapsed > 0 ? picture / elapsed : 0;
    const leftSec = elapsed > ESTIMATE_AFTER_SEC && perSec > 0 ? (pictures - picture) / perSec : undefined;
    this.#onProgress({ picture, pictures, perSec, speed: perSec / perSecond(rate), leftSec });
  }

  result(): RenderedPicture {
    const tookSec = (performance.now() - this.#begun) / 1000;
    return { pictures: this.#picture, tookSec, complaints: this.#complaints };
  }
}

function checkEnd(end: RunEnd, counter: PictureCounter, plan: PicturePlan, target: string): void {
  const said = end.lastLines.join('\n');
  if (/No space left on device|Disk quota exceeded|File too large/i.test(said)) throw targetFullFault(target, said);
  if (end.exitCode !== 0) throw ffmpegFault(end, 'rendering', target);
  const { pictures } = counter.result();
  if (pictures === plan.pictures) return;
  throw new PartsongError(
    'ffmpeg-failed',
    `FFmpeg made ${pictures} of ${plan.pictures} pictures for ${target} and did not say why.`,
    'Check that every clip plays to its end; then try again. If it happens again, run: partsong doctor',
    target,
    { cause: said },
  );
}
