import { expect, test } from 'vitest';
import { StampReader } from '../../../app/media/stamps.ts';

const SHOWN =
  'fmt:flt channels:2 chlayout:stereo rate:44100 nb_samples:1024 checksum:524CC104 plane_checksums: [ 524CC104 ]';

test('stamps are read from the lines of builds old and new, in order', async () => {
  const stamps = new StampReader();
  expect(stamps.take(`[Parsed_ashowinfo_2 @ 0x1] n:0 pts:4992 pts_time:0.104 pos:3632 ${SHOWN}`)).toBe(true);
  expect(stamps.take(`[Parsed_ashowinfo_2 @ 0x1] n:1 pts:NOPTS pts_time:NOPTS ${SHOWN}`)).toBe(true);
  expect(stamps.take('[aac @ 0x2] Input buffer exhausted before END element found')).toBe(false);
  expect(await stamps.next()).toEqual({ frame: 4992, frames: 1024, channels: 2, rateHz: 44100 });
  expect(await stamps.next()).toMatchObject({ frame: undefined, frames: 1024 });
});

test('a line that a decoder began is read all the same', async () => {
  const stamps = new StampReader();
  stamps.take(`[alac @ 0x2411a5c0] Syntax element 2n:27 pts:131072 pts_time:2.73067 pos:121875 ${SHOWN}`);
  expect(await stamps.next()).toMatchObject({ frame: 131072 });
});

test('a reader waits for a stamp, and for the end', async () => {
  const stamps = new StampReader();
  const first = stamps.next();
  stamps.take(`[Parsed_ashowinfo_2 @ 0x1] n:0 pts:-1024 pts_time:-0.02 ${SHOWN}`);
  expect(await first).toMatchObject({ frame: -1024 });
  const none = stamps.next();
  stamps.close();
  expect(await none).toBeUndefined();
});

test('a stamp that was lost is not waited for without end', async () => {
  expect(await new StampReader().next(20)).toBeUndefined();
});
