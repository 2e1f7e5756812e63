import { expect, test } from 'vitest';
import { clockOf, clockPieces, driftPpmAt, sessionSecOf, takeSecOf } from '../../../core/signal/clock.ts';

const EVEN = { offsetSec: 2, driftPpm: 50 };
const LOST = { ...EVEN, bends: [{ takeSec: 100, jumpSec: 0.02, driftPpm: 50 }] };
const DOUBLED = { ...EVEN, bends: [{ takeSec: 100, jumpSec: -0.02, driftPpm: -10 }] };

test('a clock of 50 ppm gains 5 ms in 100 s, and both ways agree within 1 ns', () => {
  expect(takeSecOf(EVEN, 102)).toBeCloseTo(100.005, 9);
  for (const at of [-3, 0, 17.5, 600]) expect(takeSecOf(EVEN, sessionSecOf(EVEN, at))).toBeCloseTo(at, 9);
});

test('20 ms that were lost at 100 s move what follows by 20 ms, and nothing before', () => {
  expect(sessionSecOf(LOST, 99.9)).toBe(sessionSecOf(EVEN, 99.9));
  expect(sessionSecOf(LOST, 100) - sessionSecOf(EVEN, 100)).toBeCloseTo(0.02, 9);
  const gap = sessionSecOf(EVEN, 100);
  for (const at of [gap + 0.001, gap + 0.01, gap + 0.019]) expect(takeSecOf(LOST, at)).toBeCloseTo(100, 9);
  expect(takeSecOf(LOST, gap + 0.03)).toBeCloseTo(100.01, 5);
});

test('where 20 ms are doubled, 10 ms of either side are not heard', () => {
  const [left, right] = clockPieces(DOUBLED);
  expect(left!.toSec).toBe(right!.fromSec);
  expect(takeSecOf(DOUBLED, left!.toSec - 1e-6)).toBeCloseTo(99.99, 4);
  expect(takeSecOf(DOUBLED, left!.toSec + 1e-6)).toBeCloseTo(100.01, 4);
  for (const at of [0, 50, 99.9, 100.02, 400]) {
    expect(takeSecOf(DOUBLED, sessionSecOf(DOUBLED, at))).toBeCloseTo(at, 9);
  }
});

test('the drift at a time is that of its stretch', () => {
  expect(driftPpmAt(DOUBLED, 99)).toBe(50);
  expect(driftPpmAt(DOUBLED, 100)).toBe(-10);
});

test('a clock without bends is two numbers', () => {
  expect(clockOf({ ...EVEN, bends: [] })).toEqual(EVEN);
  expect(clockOf(LOST)).toEqual(LOST);
});
