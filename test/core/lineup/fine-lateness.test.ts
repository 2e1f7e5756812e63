import { describe, expect, it } from 'vitest';
import { commonBeginnings, fineLateness, MarkBeginnings } from '../../../core/lineup/fine-lateness.ts';
import { listenTo } from '../../../core/lineup/take-listener.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';
import { addNoise, addNotes, type Guide, inventGuide, type Note, RATE_HZ } from './invented-session.ts';

interface Played {
  readonly sound: Sound;
  readonly notes: readonly Note[];
}

const LEAD_SEC = 1.37;

/** A player with slow attacks at some 20 dB over the noise. driftPpm: of the take's clock. */
function play(guide: Guide, seed: number, attackSec: number, driftPpm = 0): Played {
  const random = new Random(seed);
  const notes = guide.notes.map((note) => ({ ...note, atSec: note.atSec + 0.008 * random.gaussian() }));
  const samples = new Float32Array(Math.round((LEAD_SEC + guide.musicToSec + 2) * RATE_HZ));
  addNoise(samples, 0.01, random);
  addNotes(samples, notes, 0.15, { leadSec: LEAD_SEC, driftPpm }, attackSec);
  return { sound: soundOf(samples, RATE_HZ), notes };
}

/** Root of the mean square by which stretches of 4 s err about their mean, s. */
function errorOf(
  along: readonly { atSec: number; laterSec: number; weight: number }[],
  guide: Guide,
  played: Played,
): number {
  const errors: number[] = [];
  for (let fromSec = 4 * Math.ceil(guide.musicFromSec / 4); fromSec + 4 <= guide.musicToSec; fromSec += 4) {
    const isIn = (sec: number): boolean => sec >= fromSec && sec < fromSec + 4;
    const heard = along.filter((one) => isIn(one.atSec));
    const truth = guide.notes.flatMap((note, n) => (isIn(note.atSec) ? [played.notes[n]!.atSec - note.atSec] : []));
    if (heard.length === 0 || truth.length === 0) continue;
    const weight = heard.reduce((sum, one) => sum + one.weight, 0);
    const later = heard.reduce((sum, one) => sum + one.weight * one.laterSec, 0) / weight;
    errors.push(later - truth.reduce((sum, one) => sum + one, 0) / truth.length);
  }
  const mean = errors.reduce((sum, one) => sum + one, 0) / errors.length;
  return Math.sqrt(errors.reduce((sum, one) => sum + (one - mean) ** 2, 0) / errors.length);
}

describe('lateness note by note', () => {
  const guide = inventGuide(11, 60);
  const guideRises = listenTo(guide.sound);
  const mark = new MarkBeginnings(guide.sound, guideRises);
  const line = { leadSec: LEAD_SEC, driftPpm: 0 };

  // On tones as even as these the comparison in stretches is better still; on sampled notes see ../../reference/fine-lateness.judge.test.ts.
  it.each([0.005, 0.04, 0.1])('of attacks of %f s errs by 4 ms in 4 s at most', (attackSec) => {
    const played = play(guide, 5, attackSec);
    const rises = listenTo(played.sound);
    const fine = fineLateness(mark, { sound: played.sound, rises }, line, false)!;
    const errorSec = errorOf(fine, guide, played);
    console.log(`attacks of ${1000 * attackSec} ms: note by note ${(1000 * errorSec).toFixed(1)} ms`);
    expect(errorSec).toBeLessThan(0.004);
  });

  it('finds nine notes of ten that both begin, and hardly any others', () => {
    const { sound } = play(guide, 6, 0.02);
    const frames = commonBeginnings(guideRises, listenTo(sound), line, false);
    const isNear = (frame: number): boolean => guide.notes.some((note) => Math.abs(note.atSec - 0.024 * frame) < 0.05);
    expect(frames.filter(isNear).length).toBeGreaterThanOrEqual(0.9 * guide.notes.length);
    expect(frames.filter((frame) => !isNear(frame)).length).toBeLessThanOrEqual(0.05 * guide.notes.length);
  });

  it('is told against a clock without drift whatever the drift on which notes are looked for', () => {
    const driftPpm = 200;
    const { sound } = play(guide, 7, 0.02, driftPpm);
    const take = { sound, rises: listenTo(sound) };
    const [even, along] = [line, { ...line, driftPpm }].map((one) => fineLateness(mark, take, one, false)!);
    // Some beginnings only one of them finds.
    const paired = even!.flatMap((one) => {
      const like = along!.find((other) => Math.abs(other.atSec - one.atSec) < 0.02);
      return like === undefined ? [] : [Math.abs(like.laterSec - one.laterSec)];
    });
    expect(paired.length).toBeGreaterThan(0.8 * even!.length);
    expect(paired.sort((a, b) => a - b)[paired.length >> 1]).toBeLessThan(0.002);
  });

  it('is none of a few notes, and none of silence', () => {
    const short = inventGuide(12, 5);
    const shortMark = new MarkBeginnings(short.sound, listenTo(short.sound));
    const { sound } = play(short, 8, 0.02);
    expect(fineLateness(shortMark, { sound, rises: listenTo(sound) }, line, false)).toBeUndefined();
    const silent = soundOf(new Float32Array(20 * RATE_HZ), RATE_HZ);
    expect(fineLateness(mark, { sound: silent, rises: listenTo(silent) }, line, false)).toBeUndefined();
  });
});
