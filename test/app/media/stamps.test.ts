import { expect, test } from 'vitest';
import { StampReader } from '../../../app/media/stamps.ts';

/** Lines as FFmpeg prints them: the count of frames so far, and the stamp. */
function tell(stamps: StampReader, count: number, frame: number | string): void {
  expect(stamps.take('-0.125000')).toBe(true);
  expect(stamps.take(`${(count + 0.5).toFixed(6)}`)).toBe(true);
  expect(stamps.take(typeof frame === 'string' ? frame : (frame + 0.25).toFixed(6))).toBe(true);
}

test('stamps are read in order, each with the frames up to the next one', () => {
  const stamps = new StampReader();
  tell(stamps, 0, 4992);
  expect(stamps.take('[aac @ 0x2] Input buffer exhausted before END element found')).toBe(false);
  expect(stamps.next()).toBeUndefined();
  tell(stamps, 65536, 70528);
  tell(stamps, 66560, 71000);
  expect(stamps.next()).toEqual({ frame: 4992, frames: 65536 });
  expect(stamps.next()).toEqual({ frame: 70528, frames: 1024 });
  expect(stamps.next()).toBeUndefined();
  expect(stamps.last(500)).toEqual({ frame: 71000, frames: 500 });
});

test('a stamp before time zero, one that is missing and a very late one are read as they are', () => {
  const stamps = new StampReader();
  tell(stamps, 0, -2112);
  tell(stamps, 1024, 'nan');
  tell(stamps, 2048, '-nan(ind)');
  tell(stamps, 3072, 192000 * 3600 * 24);
  expect(stamps.next()).toEqual({ frame: -2112, frames: 1024 });
  expect(stamps.next()).toEqual({ frame: undefined, frames: 1024 });
  expect(stamps.next()).toEqual({ frame: undefined, frames: 1024 });
  expect(stamps.last(1)).toEqual({ frame: 16588800000, frames: 1 });
});

test('a line that a decoder began takes none of the stamp with it', () => {
  const stamps = new StampReader();
  tell(stamps, 0, 0);
  expect(stamps.take('[alac @ 0x2411a5c0] Syntax element 2-0.125000')).toBe(false);
  stamps.take('131072.500000');
  stamps.take('131072.250000');
  expect(stamps.next()).toEqual({ frame: 0, frames: 131072 });
});

test('samples whose stamp was lost follow those before', () => {
  expect(new StampReader().last(77)).toEqual({ frame: undefined, frames: 77 });
});

test('the form of the samples is read from the words of builds old and new', () => {
  const stamps = new StampReader();
  stamps.take('    Stream #0:0(und): Audio: pcm_f32le, 48000 Hz, mono, flt, 1536 kb/s (default)');
  expect(stamps.format).toEqual({ rateHz: 48000, channels: 1 });
  stamps.take('  Stream #0:0(eng): Audio: pcm_f32le ([3][0][0][0] / 0x0003), 44100 Hz, 5.1(side), flt, 8467 kb/s');
  expect(stamps.format).toEqual({ rateHz: 44100, channels: 6 });
});
