import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { WaveFileWriter } from '../../app/work/wave-file.ts';
import { centsOf, medianOf, pitchOfSpan } from '../../core/pitch/pitch-span.ts';
import { inRoom, noisy, tracked } from '../core/pitch/pitch-kit.ts';
import { longReading, playSampled, SAMPLED_RATE_HZ } from './sampled-notes.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-sampled-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** General MIDI program, lowest and highest key, and whether the sample is several players or reeds at once. */
const INSTRUMENTS = [
  ['violin', 40, 55, 91, false],
  ['cello', 42, 36, 72, false],
  ['contrabass', 43, 28, 55, false],
  ['flute', 73, 60, 91, false],
  ['piccolo', 72, 74, 98, false],
  ['oboe', 68, 58, 86, false],
  ['bassoon', 70, 34, 67, false],
  ['clarinet', 71, 50, 84, false],
  ['trumpet', 56, 54, 80, false],
  ['trombone', 57, 40, 70, false],
  ['tuba', 58, 28, 57, false],
  ['baritone saxophone', 67, 36, 66, false],
  ['horn', 60, 41, 75, false],
  ['recorder', 74, 65, 91, false],
  ['guitar', 24, 40, 76, false],
  ['bass guitar', 33, 28, 55, false],
  ['voice', 53, 45, 79, false],
  ['choir', 52, 45, 79, true],
  ['string section', 48, 40, 84, true],
] as const;
const NOTES = 8;
/**
 * Where the long readings of a dry note, the whole by two ways and its halves by one, differ by more than this, the sample has no one
 * pitch to be held to: bows and vibrato.
 */
const UNSTEADY_CENTS = 5;

interface Judged {
  readonly several: boolean;
  /** Off the dry note by our own reading, and by the mean of the two long readings; NaN where it was not measured. */
  readonly own: number;
  readonly long: number;
  readonly unsteady: boolean;
}

/** Frames with a pitch, and of them those an octave or more too high, too low, and otherwise more than 50 cents off. */
interface Frames {
  count: number;
  up: number;
  down: number;
  other: number;
}

function count(into: Frames, off: number): void {
  into.count++;
  if (off > 1100) into.up++;
  else if (off < -1100) into.down++;
  else if (Math.abs(off) > 50) into.other++;
}

function told(frames: Frames): string {
  const share = (part: number): string => ((100 * part) / frames.count).toFixed(2);
  return `${share(frames.up)} % an octave and more too high, ${share(frames.down)} % too low, ${share(frames.other)} % otherwise`;
}

/** Pitch by aubio's YIN (CV-6.4). */
function byAubio(sound: Float32Array): (readonly [number, number])[] {
  const path = join(folder, 'sound.wav');
  const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: SAMPLED_RATE_HZ });
  writer.write([sound]);
  writer.finish();
  const options = ['-p', 'yin', '-B', '2048', '-H', '512', '-r', String(SAMPLED_RATE_HZ)];
  const lines = execFileSync('aubiopitch', ['-i', path, ...options])
    .toString()
    .trim()
    .split('\n');
  return lines.map((line) => line.split(' ').map(Number) as [number, number]).filter(([, hz]) => hz > 0);
}

// Samples of FluidR3 by FluidSynth (Debian), detuned by whole cents, in a room of 0.5 s at 20 dB SNR.
describe('pitch of sampled instruments', () => {
  const rows = INSTRUMENTS.map(([, program, low, high], row) => ({
    program,
    keys: Array.from({ length: NOTES }, (_, n) => Math.round(low + ((high - low) * ((n * 3) % NOTES)) / (NOTES - 1))),
    cents: Array.from({ length: NOTES }, (_, n) => ((37 * (n + 5 * row)) % 81) - 40),
    // What is plucked rings on after its note: the next waits.
    stepSec: program === 24 || program === 33 ? 2 : 0.95,
  }));
  const dry = playSampled(
    rows.map((row) => ({ ...row, cents: row.cents.map(() => 0) })),
    folder,
  );
  const wet = playSampled(rows, folder);
  const judged: Judged[] = [];
  const theirs: number[] = [];
  const ours: Frames = { count: 0, up: 0, down: 0, other: 0 };
  const aubio: Frames = { count: 0, up: 0, down: 0, other: 0 };
  let wanted = 0;
  for (const [index, [, , , , several]] of INSTRUMENTS.entries()) {
    const sound = noisy(inRoom(wet[index]!.sound, 0.5, 4, index, SAMPLED_RATE_HZ), 20, index + 50);
    const track = tracked(sound, SAMPLED_RATE_HZ);
    const dryTrack = tracked(dry[index]!.sound, SAMPLED_RATE_HZ);
    const outside = byAubio(sound);
    for (const note of wet[index]!.notes) {
      const { fromSec, toSec, cents } = note;
      const near = 100 * (note.key - 69);
      const { byRepeat, bySpectrum, halves } = longReading(dry[index]!.sound, note);
      const readings = [byRepeat, bySpectrum, ...halves];
      const truth = 0.5 * (byRepeat + bySpectrum);
      const reading = pitchOfSpan(track, fromSec, toSec, near + cents)?.cents ?? Number.NaN;
      const dryReading = pitchOfSpan(dryTrack, fromSec, toSec, near)?.cents ?? Number.NaN;
      judged.push({
        several,
        own: Math.abs(reading - dryReading - cents),
        long: Math.abs(reading - near - truth - cents),
        unsteady: Math.max(...readings) - Math.min(...readings) > UNSTEADY_CENTS,
      });
      const isInside = (sec: number): boolean => sec > fromSec + 0.09 && sec < toSec - 0.05;
      for (let n = 0; n < track.hz.length; n++) {
        if (!isInside(track.firstSec + n * track.hopSec)) continue;
        wanted++;
        if (!Number.isNaN(track.hz[n]!)) count(ours, centsOf(track.hz[n]!) - near - truth - cents);
      }
      const offs = outside.filter(([sec]) => isInside(sec)).map(([, hz]) => centsOf(hz) - near - truth - cents);
      for (const off of offs) count(aubio, off);
      theirs.push(Math.abs(medianOf(offs)));
    }
  }
  const within = (values: readonly number[], most: number): number =>
    values.filter((value) => value <= most).length / values.length;
  const medianKnown = (values: readonly number[]): number => medianOf(values.filter((value) => !Number.isNaN(value)));
  const say = (name: string, values: readonly number[]): void =>
    console.log(
      `${name}: ${values.length} notes, median ${medianKnown(values).toFixed(2)} cents, within 2 cents ${(100 * within(values, 2)).toFixed(1)} %, within 5 ${(100 * within(values, 5)).toFixed(1)} %, not measured ${values.filter(Number.isNaN).length}`,
    );

  it('is within 2 cents (median) and within 5 cents on 98 % of the notes, and on 98 % by long readings where they hold a pitch', () => {
    const single = judged.filter((one) => !one.several);
    const steady = single.filter((one) => !one.unsteady);
    for (const [name, notes] of [
      ['all, several at once too', judged],
      ['single players', single],
      ['of those that hold a pitch', steady],
    ] as const) {
      say(
        `${name}, against the dry note by our own reading`,
        notes.map((one) => one.own),
      );
      say(
        `${name}, against the dry note by long readings`,
        notes.map((one) => one.long),
      );
    }
    say('all, by aubio, against the long readings', theirs);
    for (const notes of [judged, steady]) {
      const own = notes.map((one) => one.own);
      expect(medianKnown(own)).toBeLessThan(2);
      expect(within(own, 5)).toBeGreaterThanOrEqual(0.98);
    }
    expect(medianKnown(steady.map((one) => one.long))).toBeLessThan(2);
    expect(
      within(
        steady.map((one) => one.long),
        5,
      ),
    ).toBeGreaterThanOrEqual(0.98);
    // Where the sample itself wanders, or several play at once, what is its centre depends on the way it is read: the two long
    // readings are farther than 5 cents apart on 4 % of the notes, each of them and a count of the cycles on 5 to 7 %.
    expect(
      within(
        judged.map((one) => one.long),
        5,
      ),
    ).toBeGreaterThanOrEqual(0.9);
  });

  it('is more than 50 cents off on fewer than 1 % of the frames with a pitch, octaves up and down told apart', () => {
    console.log(
      `ours: ${told(ours)}, ${((100 * ours.count) / wanted).toFixed(1)} % with a pitch; aubio: ${told(aubio)}`,
    );
    // What is left is mostly reeds and a piccolo whose samples begin with a subharmonic.
    expect((ours.up + ours.down + ours.other) / ours.count).toBeLessThan(0.01);
    expect(ours.up / ours.count).toBeLessThanOrEqual(aubio.up / aubio.count);
    expect(ours.down / ours.count).toBeLessThanOrEqual(aubio.down / aubio.count);
    expect(ours.count / wanted).toBeGreaterThan(0.95);
  });
});
