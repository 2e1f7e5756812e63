import { readFileSync } from 'node:fs';
import { assignClips } from '../../app/desk/assignment.ts';
import { attemptsOf } from '../../app/desk/attempts.ts';
import { Cache } from '../../app/desk/cache.ts';
import { guideFileOf, keptPlanOf } from '../../app/desk/guide-file.ts';
import { judgeAttempts } from '../../app/desk/judge-attempts.ts';
import { keptTuning } from '../../app/desk/kept-tuning.ts';
import { lineUpTaken } from '../../app/desk/line-up-taken.ts';
import { isUnplaced } from '../../app/desk/placement.ts';
import { takeInWithGuide } from '../../app/desk/take-in-with-guide.ts';
import { pitchRow, trackTaken } from '../../app/desk/track-taken.ts';
import { usualThreads, WorkPool } from '../../app/work/pool.ts';
import { clockOf } from '../../core/signal/clock.ts';

/** What a run is asked for: the clips, their guide, and where the cache lies. */
export interface AnalysisRequest {
  readonly clips: readonly string[];
  readonly guide: string;
  readonly cache: string;
  /** Each step is stopped half way through, begun anew, and so on. */
  readonly stopEach: boolean;
}

export interface AnalysisStep {
  readonly name: string;
  readonly cpuSec: number;
  readonly wallSec: number;
  /** From the stop's being asked for until the step had ended, ms; null where it was not stopped, or was over before. */
  readonly stoppedMs: number | null;
}

export interface AnalysisReading {
  readonly steps: readonly AnalysisStep[];
  /** From the process' beginning, children included. */
  readonly cpuSec: number;
  readonly peakMib: number;
  readonly placed: number;
  readonly worstUncertaintyMs: number;
  readonly leaksHeard: number;
  readonly notesWritten: number;
  readonly notesMatched: number;
  readonly chords: number;
}

/** A step may be stopped when this share of it is done. */
const STOP_AT = 0.5;
const TICKS_PER_SEC = 100;

/**
 * All that the desk does to know takes: decode and listen, line up, follow the pitch, loudness, noise and claps, clipped spots, what
 * speaks for and against each take, tuning and timing. In this process and its workers.
 */
export async function runAnalysis({
  clips,
  guide,
  cache: folder,
  stopEach,
}: AnalysisRequest): Promise<AnalysisReading> {
  const cache = new Cache(folder);
  const pool = new WorkPool(usualThreads());
  const steps = new Steps(stopEach);
  try {
    const heard = await steps.take('decode and listen', (options) =>
      takeInWithGuide(clips, guide, cache, pool, options),
    );
    const { file } = await guideFileOf(heard.guide);
    const { takes } = heard;
    const placements = await steps.take('line up', (options) =>
      lineUpTaken(takes, heard.guide, cache, pool, { ...options, plan: keptPlanOf(file) }),
    );
    const tracked = await steps.take('follow the pitch', (options) => trackTaken(takes, cache, pool, options));
    const attempts = await attemptsOf(assignClips(clips, { by: 'clip' }), takes, false, cache, pool);
    const against = { score: file?.score, plan: file?.plan };
    await steps.take('loudness, noise, worth', ({ signal, onProgress }) =>
      judgeAttempts(
        attempts,
        placements.map((placement) => ({ placement, found: placement })),
        cache,
        pool,
        { signal, onStep: () => onProgress, played: against },
      ),
    );
    const voices = takes.map((take, index) => {
      const placement = placements[index]!;
      const place = isUnplaced(placement) ? null : { ...clockOf(placement), uncertaintySec: placement.uncertaintySec };
      const row = pitchRow(take, tracked[index]!, cache);
      return { id: String(index), name: attempts[index]!.name, tracked: tracked[index]!, row, place };
    });
    const asked = { ...against, referenceHz: null, temperament: 'equal', tonic: 0 } as const;
    const { value: findings } = await steps.take('tuning and timing', (options) =>
      keptTuning(voices, asked, cache, pool, options),
    );
    const sum = (values: readonly (number | null)[]): number =>
      values.reduce<number>((all, one) => all + (one ?? 0), 0);
    return {
      steps: steps.done,
      cpuSec: cpuSec(),
      peakMib: Number(/VmHWM:\s+(\d+)/.exec(readFileSync('/proc/self/status', 'utf8'))?.[1]) / 1024,
      placed: placements.filter((placement) => !isUnplaced(placement)).length,
      worstUncertaintyMs: Math.max(...placements.map(({ uncertaintySec }) => 1000 * uncertaintySec)),
      leaksHeard: placements.filter(({ evidence }) => evidence.some((one) => one.kind === 'bleed' && one.accepted))
        .length,
      notesWritten: sum(findings.voices.map((voice) => voice.notesWritten)),
      notesMatched: sum(findings.voices.map((voice) => voice.notesMatched)),
      chords: findings.intonation?.chordsMeasured ?? 0,
    };
  } finally {
    await pool.close();
  }
}

interface StepOptions {
  readonly signal: AbortSignal;
  readonly onProgress: (fraction: number) => void;
}

/** Takes steps one after another and keeps what each has cost. */
class Steps {
  readonly done: AnalysisStep[] = [];
  readonly #stopEach: boolean;

  constructor(stopEach: boolean) {
    this.#stopEach = stopEach;
  }

  async take<Value>(name: string, work: (options: StepOptions) => Promise<Value>): Promise<Value> {
    const stoppedMs = this.#stopEach ? await stopHalfWay(work) : null;
    const cpuBefore = cpuSec();
    const wallBefore = performance.now();
    const value = await work({ signal: new AbortController().signal, onProgress: () => {} });
    const wallSec = (performance.now() - wallBefore) / 1000;
    this.done.push({ name, cpuSec: cpuSec() - cpuBefore, wallSec, stoppedMs });
    return value;
  }
}

async function stopHalfWay<Value>(work: (options: StepOptions) => Promise<Value>): Promise<number | null> {
  const stop = new AbortController();
  let askedAt: number | undefined;
  const onProgress = (fraction: number): void => {
    if (fraction < STOP_AT || fraction === 1 || askedAt !== undefined) return;
    askedAt = performance.now();
    stop.abort();
  };
  try {
    await work({ signal: stop.signal, onProgress });
    return null;
  } catch (error) {
    if (askedAt === undefined || !(error instanceof Error) || error.name !== 'CancelledError') throw error;
    return performance.now() - askedAt;
  }
}

/** User and system seconds of this process, its threads, and what it started and has seen end. */
function cpuSec(): number {
  const { user, system } = process.cpuUsage();
  const fields = readFileSync('/proc/self/stat', 'utf8')
    .replace(/^.*\) /, '')
    .split(' ');
  // Of the process' line in proc(5) cutime is field 16, cstime 17; the name, field 2, was cut away with the first.
  return (user + system) / 1e6 + (Number(fields[13]) + Number(fields[14])) / TICKS_PER_SEC;
}
