import { expect, test } from 'vitest';
import { TimeLine, type TimeLinePlan, type TimeLineReport } from '../../../app/media/time-line.ts';

const PLAN: TimeLinePlan = {
  rateHz: 48000,
  channels: 1,
  zeroFrame: 0,
  primingFrames: 0,
  endFrame: undefined,
  toleranceSec: 0.004,
};

/** Lays runs of 1024 frames, whose values count up from 1, at the given stamps. */
function lay(plan: Partial<TimeLinePlan>, stamps: readonly (number | undefined)[]): [number[], TimeLineReport] {
  const line = new TimeLine({ ...PLAN, ...plan });
  const out: number[] = [];
  let value = 1;
  for (const stamp of stamps) {
    line.begin(stamp, 1024);
    const samples = Float32Array.from({ length: 1024 }, () => value++);
    // Two pieces, as a pipe may cut them.
    for (const block of line.push(samples.subarray(0, 300), 300)) out.push(...block[0]!);
    for (const block of line.push(samples.subarray(300), 724)) out.push(...block[0]!);
  }
  for (const block of line.finish()) out.push(...block[0]!);
  return [out, line.report()];
}

test('runs that follow each other are given as they are', () => {
  const [out, report] = lay({}, [0, 1024, undefined, 3072]);
  expect(out).toEqual(Array.from({ length: 4096 }, (_, n) => n + 1));
  expect(report).toMatchObject({ frames: 4096, leadFrames: 0, gaps: [], overlapFrames: 0, stampDriftSec: 0 });
});

test('a late stream is preceded by silence', () => {
  const [out, report] = lay({}, [20_000, 21_024]);
  expect(out.findIndex((value) => value !== 0)).toBe(20_000);
  expect(report).toMatchObject({ frames: 22_048, leadFrames: 20_000 });
});

test('sound before clip time zero is left out', () => {
  const [out, report] = lay({}, [-1500, -476]);
  expect(out[0]).toBe(1501);
  expect(report).toMatchObject({ frames: 548, headFrames: 1500 });
});

test('encoder delay is left out: at zero, after a late start, and where zero is the first frame', () => {
  expect(lay({ primingFrames: 1024, zeroFrame: 1024 }, [0, 1024])[0][0]).toBe(1025);
  const [late] = lay({ primingFrames: 1024 }, [5000, 6024]);
  expect(late.findIndex((value) => value !== 0)).toBe(6024);
  expect(late[6024]).toBe(1025);
  expect(lay({ primingFrames: 1024, zeroFrame: undefined }, [777, 1801])[0][0]).toBe(1025);
});

test('a gap is filled with silence, so that what follows stays at its stamp', () => {
  const [out, report] = lay({}, [0, 1024 + 2048]);
  expect(out.slice(1024, 3072).every((value) => value === 0)).toBe(true);
  expect(out[3072]).toBe(1025);
  expect(report.gaps).toEqual([{ atSec: 1024 / 48000, lengthSec: 2048 / 48000 }]);
});

test('an overlap is left out, so that what follows stays at its stamp', () => {
  const [out, report] = lay({}, [0, 1024 - 500, 2048 - 500]);
  expect(out[1024]).toBe(1025 + 500);
  expect(report).toMatchObject({ overlapFrames: 500, frames: 3072 - 500 });
});

test('stamps that jitter by 1 ms move nothing', () => {
  const [out, report] = lay({}, [0, 1050, 2020, 3100, 4096]);
  expect(out).toEqual(Array.from({ length: 5120 }, (_, n) => n + 1));
  expect(report.gaps).toEqual([]);
});

test('a clock that leaps an hour, or back by two seconds, is not followed', () => {
  const [out, report] = lay({}, [0, 3600 * 48000, 3600 * 48000 + 1024, 3500 * 48000]);
  expect(out).toHaveLength(4096);
  expect(report).toMatchObject({ leaps: 2, gaps: [] });
});

test('nothing is given past the told end', () => {
  const [out, report] = lay({ endFrame: 1500 }, [0, 1024]);
  expect(out).toHaveLength(1500);
  expect(report).toMatchObject({ frames: 1500, tailFrames: 548 });
});

test('a gap that reaches past the told end stops there', () => {
  expect(lay({ endFrame: 5000 }, [0, 40_000])[0]).toHaveLength(5000);
});
