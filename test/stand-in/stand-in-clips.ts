import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { standInSize } from './stand-in-size.ts';

const made = new Map<string, Promise<Uint8Array | undefined>>();
let folder: string | undefined;

/**
 * The moving picture of invented take `n`, made by the system's FFmpeg: a clock that runs, upright for every third.
 * undefined for other routes, and where there is no FFmpeg.
 */
export function standInClip(url: URL): Promise<Uint8Array | undefined> | undefined {
  const parts = url.pathname.split('/').slice(2).map(decodeURIComponent);
  if (parts[0] !== 'clip' && parts[0] !== 'proxy') return undefined;
  const take = Math.max(0, Number(/\d+/.exec(parts[1] ?? '')?.[0] ?? 1) - 1);
  const name = `${take % 6}-${url.searchParams.get('length') ?? 60}`;
  const known = made.get(name) ?? make(name, take % 6, Number(url.searchParams.get('length') ?? 60));
  made.set(name, known);
  return known;
}

function make(name: string, n: number, lengthSec: number): Promise<Uint8Array | undefined> {
  folder ??= mkdtempSync(join(tmpdir(), 'stand-in-clips-'));
  const path = join(folder, `${name}.mp4`);
  const { widthPx, heightPx } = standInSize(n);
  const source = `testsrc2=size=${widthPx}x${heightPx}:rate=25:duration=${lengthSec},hue=h=${60 * n}`;
  const coder = ['-c:v', 'libx264', '-preset', 'ultrafast', '-g', '12', '-bf', '0', '-pix_fmt', 'yuv420p'];
  const args = ['-v', 'error', '-f', 'lavfi', '-i', source, ...coder, '-movflags', '+faststart', '-y', path];
  return new Promise((settle) => {
    execFile('ffmpeg', args, (error) => settle(error === null ? readFileSync(path) : undefined));
  });
}
