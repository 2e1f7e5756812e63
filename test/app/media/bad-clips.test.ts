import { chmodSync, copyFileSync, existsSync, mkdirSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { decode } from '../../../app/media/decode.ts';
import { type Ffmpeg, findFfmpeg, useFfmpeg } from '../../../app/media/ffmpeg.ts';
import { probe, readAllFacts } from '../../../app/media/probe.ts';
import { CancelledError } from '../../../core/signal/fault.ts';
import { decodeWhole, make, makeFolder, snrDb, strokes, writeWave } from './clip-kit.ts';

const folder = makeFolder();
const at = (name: string): string => `${folder.path}/${name}`;
let ffmpeg: Ffmpeg;
beforeAll(async () => {
  ffmpeg = await findFfmpeg();
  writeWave(at('take.wav'), strokes(5 * 48000, 1, 48000, 3), 48000, 'pcm16');
  const picture = ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=5'];
  const codecs = ['-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac', '-b:a', '192k'];
  make(ffmpeg, [...picture, '-i', 'take.wav', ...codecs, 'take.mov'], folder.path);
  make(ffmpeg, ['-i', 'take.mov', '-c', 'copy', '-movflags', '+faststart', 'front.mov'], folder.path);
  make(ffmpeg, ['-i', 'take.wav', '-c:a', 'alac', 'take.m4a'], folder.path);
});
afterEach(() => useFfmpeg(ffmpeg));
afterAll(() => folder.remove());

/** An FFmpeg that is a script of ours; `real` stands for the true one. */
function scripted(name: string, script: string): Ffmpeg {
  writeFileSync(at(name), `#!/bin/sh\n${script.replaceAll('real', `'${ffmpeg.path}'`)}\n`);
  chmodSync(at(name), 0o755);
  return { path: at(name), version: 'scripted', origin: 'PARTSONG_FFMPEG' };
}

/** Waits until the process whose id was noted is gone; false when it is still there after 3 s. */
async function isGone(pidFile: string): Promise<boolean> {
  const pid = Number(readFileSync(pidFile, 'utf8'));
  for (let n = 0; n < 60; n++) {
    try {
      process.kill(pid, 0);
    } catch {
      return true;
    }
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  return false;
}

describe('each bad clip has its own fault, which names the file', () => {
  test('a missing file', async () => {
    const file = at('no such take.mov');
    await expect(probe(file)).rejects.toMatchObject({ code: 'file-missing', file });
  });

  test('an empty file', async () => {
    writeFileSync(at('empty.mov'), '');
    await expect(probe(at('empty.mov'))).rejects.toMatchObject({ code: 'file-empty', file: at('empty.mov') });
  });

  test('a folder', async () => {
    mkdirSync(at('folder.mov'));
    await expect(probe(at('folder.mov'))).rejects.toMatchObject({ code: 'file-unreadable' });
    await expect(probe(at('folder.mov'))).rejects.toThrow('is a folder');
  });

  test('a text file named .mov', async () => {
    writeFileSync(at('text.mov'), 'Dear diary, today I did not practise.\n'.repeat(30));
    await expect(probe(at('text.mov'))).rejects.toMatchObject({ code: 'not-media', file: at('text.mov') });
  });

  test('a playlist that points elsewhere is not followed', async () => {
    writeFileSync(
      at('list.mov'),
      '#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n',
    );
    await expect(probe(at('list.mov'))).rejects.toMatchObject({ file: at('list.mov') });
  });

  test('a clip with a picture but no sound', async () => {
    make(ffmpeg, ['-f', 'lavfi', '-i', 'testsrc=size=96x64:rate=30:duration=0.2', 'mute.mov'], folder.path);
    await expect(probe(at('mute.mov'))).rejects.toMatchObject({ code: 'no-sound' });
    await expect(probe(at('mute.mov'))).rejects.toThrow('has a picture but no sound');
  });

  test('a recording whose table of contents was never written', async () => {
    copyFileSync(at('take.mov'), at('never closed.mov'));
    truncateSync(at('never closed.mov'), 60_000);
    const fault = probe(at('never closed.mov'));
    await expect(fault).rejects.toMatchObject({ code: 'truncated', file: at('never closed.mov') });
  });

  test('the first of several clips that is bad', async () => {
    const files = [at('take.wav'), at('no such take.mov'), at('take.m4a')];
    await expect(readAllFacts(files)).rejects.toMatchObject({ code: 'file-missing', file: files[1] });
    const facts = await readAllFacts([files[0]!, files[2]!]);
    expect(facts.map((one) => one.lengthSec)).toEqual([5, 5]);
  });
});

describe('of a clip that is cut off, what is there is decoded', () => {
  test('a .mov with its table of contents in front, cut at 60 %', async () => {
    copyFileSync(at('front.mov'), at('cut.mov'));
    truncateSync(at('cut.mov'), Math.round(readFileSync(at('front.mov')).length * 0.6));
    const whole = await decodeWhole(at('front.mov'));
    const cut = await decodeWhole(at('cut.mov'));
    expect(cut.facts.truncated).toBe(true);
    expect(cut.report.truncated).toBe(true);
    expect(cut.report.frames / whole.report.frames).toBeGreaterThan(0.4);
    expect(cut.report.frames / whole.report.frames).toBeLessThan(0.8);
    // The last AAC frame may be cut in two, and so what overlaps it.
    const sound = cut.channels[0]!.subarray(0, -4096);
    expect(snrDb(sound, whole.channels[0]!)).toBeGreaterThan(100);
    expect(cut.report.notes.join(' ')).toContain('cut off');
    expect(whole.report.truncated).toBe(false);
  });

  test('what a recorder hung behind the last box does not make a clip cut off', async () => {
    const trailer = Buffer.from('7fffffffSEFTand more');
    writeFileSync(at('trailer.mov'), Buffer.concat([readFileSync(at('take.mov')), trailer]));
    const { facts, report } = await decodeWhole(at('trailer.mov'));
    expect(facts.truncated || report.truncated).toBe(false);
    expect(report.frames).toBe(240_000);
  });

  test('a .wav cut at 60 %', async () => {
    copyFileSync(at('take.wav'), at('cut.wav'));
    const headerBytes = readFileSync(at('take.wav')).length - 2 * 240_000;
    truncateSync(at('cut.wav'), headerBytes + 2 * 144_000 + 1);
    const { facts, report } = await decodeWhole(at('cut.wav'));
    expect(facts.truncated && report.truncated).toBe(true);
    expect(report.frames).toBe(144_000);
  });
});

describe('names are taken as they are', () => {
  const names = [
    'take "one" äöü 🎻 %03d.m4a',
    "it's; echo $HOME `x` & |.m4a",
    '-i.m4a',
    'http:take.m4a',
    'a\nb.m4a',
    '# ?.m4a',
  ];
  for (const name of names) {
    test(JSON.stringify(name), async () => {
      copyFileSync(at('take.m4a'), at(name));
      const before = process.cwd();
      process.chdir(folder.path);
      try {
        const { report } = await decodeWhole(name);
        expect(report.frames).toBe(240_000);
      } finally {
        process.chdir(before);
      }
    });
  }
});

describe('FFmpeg that fails', () => {
  test('ended from outside while looking into a clip', async () => {
    useFfmpeg(scripted('dies', 'kill -9 $$'));
    await expect(probe(at('take.m4a'))).rejects.toMatchObject({ code: 'ffmpeg-failed', file: at('take.m4a') });
  });

  test('ended from outside while decoding', async () => {
    const facts = await probe(at('take.m4a'));
    useFfmpeg(scripted('dies later', 'real "$@" | head -c 400000; kill -9 $$'));
    const read = async (): Promise<void> => {
      for await (const block of decode(at('take.m4a'), facts)) expect(block).toHaveLength(1);
    };
    await expect(read()).rejects.toMatchObject({ code: 'ffmpeg-failed', file: at('take.m4a') });
  });

  test('that heeds a signal in the middle of a clip and ends in order', async () => {
    const facts = await probe(at('take.m4a'));
    useFfmpeg(
      scripted('interrupted', 'real "$@" | head -c 400000; echo "Exiting normally, received signal 15." >&2; exit 255'),
    );
    const read = async (): Promise<void> => {
      for await (const block of decode(at('take.m4a'), facts)) expect(block).toHaveLength(1);
    };
    await expect(read()).rejects.toMatchObject({ code: 'ffmpeg-failed', file: at('take.m4a') });
  });

  test('that says nothing at all still gives its samples', async () => {
    const facts = await probe(at('take.m4a'));
    useFfmpeg(scripted('speechless', 'exec real "$@" 2>/dev/null'));
    let frames = 0;
    for await (const block of decode(at('take.m4a'), facts)) frames += block[0]!.length;
    expect(frames).toBe(240_000);
  });

  test('that is not there', async () => {
    useFfmpeg({ path: at('nothing here'), version: '', origin: 'system' });
    await expect(probe(at('take.m4a'))).rejects.toMatchObject({ code: 'ffmpeg-failed' });
  });
});

describe('a decoding that is left leaves no process behind', () => {
  test('when its reader leaves off', async () => {
    const facts = await probe(at('take.m4a'));
    useFfmpeg(scripted('noted', `echo $$ > '${at('noted.pid')}'; exec real "$@"`));
    for await (const block of decode(at('take.m4a'), facts)) {
      expect(block[0]!.length).toBeGreaterThan(0);
      break;
    }
    expect(await isGone(at('noted.pid'))).toBe(true);
  });

  test('when the stop flag is raised', async () => {
    const facts = await probe(at('take.m4a'));
    useFfmpeg(scripted('noted too', `echo $$ > '${at('noted too.pid')}'; exec real "$@"`));
    const stop = new AbortController();
    const read = async (): Promise<void> => {
      for await (const _block of decode(at('take.m4a'), facts, { signal: stop.signal })) stop.abort();
    };
    await expect(read()).rejects.toThrow(CancelledError);
    expect(await isGone(at('noted too.pid'))).toBe(true);
  });

  test('when it does not heed a polite request', async () => {
    const facts = await probe(at('take.m4a'));
    const wait = `trap '' TERM; echo $$ > '${at('deaf.pid')}'; while :; do sleep 0.1; done`;
    useFfmpeg(scripted('deaf', wait));
    const stop = new AbortController();
    const read = async (): Promise<void> => {
      for await (const _block of decode(at('take.m4a'), facts, { signal: stop.signal }));
    };
    const reading = read();
    while (!existsSync(at('deaf.pid'))) await new Promise((resolve) => setTimeout(resolve, 20));
    stop.abort();
    await expect(reading).rejects.toThrow(CancelledError);
    expect(await isGone(at('deaf.pid'))).toBe(true);
  });

  test('a flag raised beforehand starts none', async () => {
    const facts = await probe(at('take.m4a'));
    const signal = AbortSignal.abort();
    await expect(probe(at('take.m4a'), signal)).rejects.toThrow(CancelledError);
    const first = decode(at('take.m4a'), facts, { signal })[Symbol.asyncIterator]().next();
    await expect(first).rejects.toThrow(CancelledError);
  });
});
