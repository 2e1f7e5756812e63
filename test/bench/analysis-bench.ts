import { spawnSync } from 'node:child_process';
import { rmSync } from 'node:fs';
import { loadavg } from 'node:os';
import { join } from 'node:path';
import type { AnalysisReading, AnalysisRequest } from './analysis-run.ts';
import { makeBenchEnsemble } from './bench-ensemble.ts';

/** CPU seconds of six takes of 5 min, for other lengths as much more or less; whole processes with all they start. */
const GOAL_SEC = 20;
const GOAL_LENGTH_SEC = 300;

export interface AnalysisBenchReading {
  readonly lengthSec: number;
  readonly fresh: AnalysisReading;
  readonly again: AnalysisReading;
  readonly stopped: AnalysisReading;
  /** CPU seconds of aubiopitch on the same takes, and what they are to our following of the pitch; null where it is not installed. */
  readonly aubioSec: number | null;
  readonly aubioRatio: number | null;
}

/**
 * Measures what it costs to know six takes: in a process of its own, once more with what the first run has kept, and once with each
 * step stopped half way. bench: how to start the bench anew, which then runs the request it is given (see analysis-run.ts).
 */
export async function benchAnalysis(
  partsong: readonly string[],
  bench: readonly string[],
  folder: string,
  { lengthSec, leakDb }: { readonly lengthSec: number; readonly leakDb: number | null },
  cpuSecondsOf: (command: readonly string[]) => number,
  print: (line: string) => void,
): Promise<AnalysisBenchReading> {
  const ensemble = await makeBenchEnsemble(partsong, folder, lengthSec, leakDb);
  const { clips, guide, waves } = ensemble;
  const runOf = (cache: string, stopEach: boolean): AnalysisReading => {
    const request: AnalysisRequest = { clips, guide, cache: join(folder, cache), stopEach };
    const [program, ...rest] = [...bench, '--analyse', JSON.stringify(request)];
    const ended = spawnSync(program!, rest, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'inherit'] });
    if (ended.status !== 0) throw new Error(`the analysis ended with ${ended.status}`);
    return JSON.parse(ended.stdout) as AnalysisReading;
  };
  const fresh = runOf('kept', false);
  const again = runOf('kept', false);
  const stopped = runOf('stopped', true);
  const goalSec = (GOAL_SEC * lengthSec) / GOAL_LENGTH_SEC;
  const sec = (value: number): string => value.toFixed(2);
  print(
    `analysis  ${clips.length} takes of ${lengthSec} s, ${leakDb === null ? 'no leakage' : `leakage ${-leakDb} dB below the guide`}: ${sec(fresh.cpuSec)} s of CPU (goal ${sec(goalSec)}${fresh.cpuSec < goalSec ? '' : ', missed'}), at most ${fresh.peakMib.toFixed(0)} MiB; again from the cache ${sec(again.cpuSec)} s; load ${loadavg()[0]!.toFixed(1)}`,
  );
  fresh.steps.forEach(({ name, cpuSec, wallSec }, n) => {
    const stoppedMs = stopped.steps[n]!.stoppedMs;
    print(
      `          ${name.padEnd(24)} ${sec(cpuSec).padStart(6)} s of CPU, ${sec(wallSec).padStart(6)} s; again ${sec(again.steps[n]!.cpuSec)} s; ${stoppedMs === null ? 'was not stopped' : `stopped within ${stoppedMs.toFixed(0)} ms`}`,
    );
  });
  print(
    `          ${fresh.placed} of ${clips.length} placed within ${fresh.worstUncertaintyMs.toFixed(1)} ms, the guide's leakage heard in ${fresh.leaksHeard}; ${fresh.notesMatched} of ${fresh.notesWritten} notes matched, ${fresh.chords} chords`,
  );
  const aubioSec = byAubio(waves, cpuSecondsOf);
  const ownSec = fresh.steps.find(({ name }) => name === 'follow the pitch')!.cpuSec;
  const aubioRatio = aubioSec === null ? null : aubioSec / ownSec;
  print(
    aubioSec === null
      ? '          aubiopitch is not on this machine: no peer'
      : `          following the pitch: aubiopitch (YIN by FFT, hops of 10 ms) ${sec(aubioSec)} s, ours ${sec(ownSec)} s: ratio ${sec(aubioSec / ownSec)}, ${((clips.length * lengthSec) / ownSec).toFixed(0)} s of sound a CPU second`,
  );
  rmSync(folder, { recursive: true, force: true });
  return { lengthSec, fresh, again, stopped, aubioSec, aubioRatio };
}

function byAubio(waves: readonly string[], cpuSecondsOf: (command: readonly string[]) => number): number | null {
  if (spawnSync('aubiopitch', ['-h']).error !== undefined) return null;
  const options = ['-p', 'yinfast', '-B', '2048', '-H', '480'];
  return waves.reduce((sum, wave) => sum + cpuSecondsOf(['aubiopitch', '-i', wave, ...options]), 0);
}
