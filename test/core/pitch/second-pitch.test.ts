import { describe, expect, it } from 'vitest';
import { pitchVerdict } from '../../../core/pitch/pitch-verdict.ts';
import { type SecondPitch, secondPitch } from '../../../core/pitch/second-pitch.ts';
import { soundOf } from '../../../core/signal/sound.ts';
import { hzOfKey, inRoom, noisy, played, RATE_HZ, row, soundingLevel, tone, tracked } from './pitch-kit.ts';

const MELODY = [67, 69, 71, 72, 71, 69, 67, 65, 64, 65, 67, 71];
const NOTE_SEC = 0.45;

function melody(keys: readonly number[], by = 0) {
  return row(
    keys.map((key) => key + by),
    NOTE_SEC,
    0.02,
    () => 0,
  );
}

function sumOf(...sounds: readonly Float32Array[]): Float32Array {
  const sum = new Float32Array(Math.max(...sounds.map((one) => one.length)));
  for (const sound of sounds) for (let n = 0; n < sound.length; n++) sum[n]! += sound[n]!;
  return sum;
}

function besideIn(sound: Float32Array): SecondPitch {
  return secondPitch(soundOf(sound, RATE_HZ), tracked(sound));
}

function shareOf({ lookedSec, found }: SecondPitch): number {
  return found.length / lookedSec.length;
}

describe('a second note beside the pitch that is followed', () => {
  const one = played(melody(MELODY), 'blown');

  it('is found at half the moments looked at and more where two wind players play in small thirds', () => {
    const both = noisy(inRoom(sumOf(one, played(melody(MELODY, -3), 'blown')), 0.5, 4, 1), 30, 2);
    const beside = besideIn(both);
    expect(beside.lookedSec.length).toBeGreaterThan(20);
    expect(shareOf(beside)).toBeGreaterThan(0.5);
    const notes = MELODY.flatMap((key) => [hzOfKey(key), hzOfKey(key - 3)]);
    const near = beside.found.filter(({ hz }) => notes.some((note) => Math.abs(1200 * Math.log2(hz / note)) < 40));
    expect(near.length).toBeGreaterThan(0.9 * beside.found.length);
  });

  it.each([0.3, 0.9, 1.8])('is not found where one wind player plays in a room of %d s', (t60Sec) => {
    const beside = besideIn(noisy(inRoom(one, t60Sec, 2, 3), 25, 4));
    expect(beside.lookedSec.length).toBeGreaterThan(20);
    expect(shareOf(beside)).toBeLessThan(0.03);
  });

  it('is not what hums before and after the playing, 20 dB below it', () => {
    const hum = tone(() => 100, one.length / RATE_HZ, [1, 0.6, 0.5, 0.4]);
    const gain = (0.1 * soundingLevel(one)) / soundingLevel(hum);
    const beside = besideIn(
      sumOf(
        one,
        hum.map((value) => gain * value),
      ),
    );
    expect(beside.lookedSec.length).toBeGreaterThan(20);
    expect(beside.found).toEqual([]);
  });

  it('is not what leaks from headphones 26 dB below the voice', () => {
    const leak = played(melody(MELODY, -4), 'blown').map((value) => 0.05 * value);
    expect(besideIn(noisy(sumOf(one, leak), 35, 5)).found).toEqual([]);
  });

  it('is not told an octave above: it hides in the first', () => {
    expect(besideIn(noisy(sumOf(one, played(melody(MELODY, 12), 'blown')), 35, 6)).found).toEqual([]);
  });

  it('is not looked for where nothing is pitched', () => {
    expect(besideIn(new Float32Array(RATE_HZ))).toEqual({ lookedSec: [], found: [], wholeShare: 0 });
    expect(secondPitch(soundOf(new Float32Array(0), RATE_HZ), tracked(new Float32Array(0)))).toEqual({
      lookedSec: [],
      found: [],
      wholeShare: 0,
    });
  });
});

describe('the verdict on a take', () => {
  const one = played(melody(MELODY), 'blown');
  const verdictOf = (sound: Float32Array) => {
    const track = tracked(sound);
    return pitchVerdict(track, () => secondPitch(soundOf(sound, RATE_HZ), track));
  };

  it('refuses two wind players in great thirds, telling in how much of the sound', () => {
    const both = noisy(inRoom(sumOf(one, played(melody(MELODY, -4), 'blown')), 0.5, 4, 1), 30, 2);
    expect(verdictOf(both)).toMatchObject({
      kind: 'several',
      sentence: expect.stringMatching(/in at least \d+ % of its sound/),
    });
  });

  it('tells where two of twelve notes are doubled, within a note', () => {
    const doubles = melody(MELODY, -3).filter((_, n) => n === 4 || n === 5);
    const verdict = verdictOf(noisy(inRoom(sumOf(one, played(doubles, 'blown')), 0.4, 4, 1), 30, 2));
    expect(verdict.kind).toBe('unsure');
    const sec = Number(/(?:heard at|from) 0:(\d\d\.\d)/.exec(verdict.sentence)?.[1]);
    expect(sec).toBeGreaterThan(doubles[0]!.fromSec);
    expect(sec).toBeLessThan(doubles[1]!.toSec);
  });

  it('lets one wind player be in a room of 1.8 s', () => {
    expect(verdictOf(noisy(inRoom(one, 1.8, 2, 3), 25, 4)).kind).toBe('pitched');
  });

  it('lets one low tone be whose first two partials a small microphone keeps back, which by its track alone is several notes', () => {
    const levels = Array.from({ length: 16 }, (_, n) => (n < 2 ? 0 : 0.1 / (n + 1)));
    const sound = noisy(
      tone((sec) => (sec < 2 ? 110 : 98), 4, levels),
      40,
      7,
    );
    expect(pitchVerdict(tracked(sound)).kind).toBe('several');
    expect(verdictOf(sound).kind).toBe('pitched');
  });

  it('refuses a chord of tones at 4, 5 and 6 times 110 Hz', () => {
    const levels = [0.1, 0.05, 0.03, 0.02, 0.02, 0.01, 0.01, 0.01];
    const chord = sumOf(...[440, 550, 660].map((hz) => tone(() => hz, 3, levels)));
    expect(verdictOf(noisy(chord, 40, 8)).kind).toBe('several');
  });

  it('does not look where the track tells by itself that there is nothing to measure', () => {
    const verdict = pitchVerdict(tracked(new Float32Array(RATE_HZ)), () => {
      throw new Error('looked');
    });
    expect(verdict.kind).toBe('silent');
  });
});
