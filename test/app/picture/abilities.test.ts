import { chmodSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { graphFileOption } from '../../../app/picture/abilities.ts';
import { withinLine } from '../../../app/picture/render-picture.ts';
import { makeFolder } from '../media/clip-kit.ts';

describe('an FFmpeg of any age', () => {
  const folder = makeFolder();
  afterAll(() => folder.remove());

  /** A stand-in that answers as an FFmpeg of that libavutil does. */
  const standIn = (version: string, libavutil: string): { path: string } => {
    const path = join(folder.path, `ffmpeg-${version}`);
    writeFileSync(
      path,
      `#!/bin/sh\nprintf 'ffmpeg version ${version}\\nlibavutil      ${libavutil} / ${libavutil}\\n'\n`,
    );
    chmodSync(path, 0o755);
    return { path };
  };

  it.each([
    ['N-47683', '56. 24.101', '-filter_complex_script'],
    ['5.1.6', '57. 28.100', '-filter_complex_script'],
    ['6.1', '58. 29.100', '-filter_complex_script'],
    // Deprecated in 7.0, where any option can be read from a file.
    ['7.0.2', '59.  8.100', '-/filter_complex'],
    ['8.0', '60.  8.100', '-/filter_complex'],
  ])('takes a long graph from a file as %s wants it', async (version, libavutil, option) => {
    const ffmpeg = standIn(version, libavutil);
    expect(await graphFileOption(ffmpeg)).toBe(option);
    const args = ['-i', 'one', '-filter_complex', '[0:v]null[x]', '-map', '[x]'];
    expect(await withinLine(args, folder.path, ffmpeg)).toEqual(args);
    const long = await withinLine(args, folder.path, ffmpeg, 20);
    expect(long).toEqual(['-i', 'one', option, join(folder.path, 'graph.txt'), '-map', '[x]']);
    expect(readFileSync(long[3]!, 'utf8')).toBe('[0:v]null[x]');
  });
});
