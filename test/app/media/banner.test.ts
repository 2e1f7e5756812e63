import { describe, expect, it } from 'vitest';
import { type BannerStream, readBanner } from '../../../app/media/banner.ts';

function streamOf(line: string, ...more: string[]): BannerStream {
  return readBanner(["Input #0, mov,mp4,m4a,3gp,3g2,mj2, from 'a.mov':", line, ...more])!.streams[0]!;
}

describe('what FFmpeg tells of a picture', () => {
  it('reads an HLG clip of a phone in the words of 5.1', () => {
    const stream = streamOf(
      '  Stream #0:0[0x1](und): Video: hevc (Main 10) (hvc1 / 0x31637668), yuv420p10le(tv, bt2020nc/bt2020/arib-std-b67), 1920x1080, 9000 kb/s, 29.98 fps, 30 tbr, 600 tbn (default)',
      '      displaymatrix: rotation of -90.00 degrees',
    );
    expect(stream).toMatchObject({
      pixelFormat: 'yuv420p10le',
      colour: { matrix: 'bt2020nc', primaries: 'bt2020', transfer: 'arib-std-b67', range: 'tv' },
      isInterlaced: false,
      rotationDeg: -90,
      nominalRate: 30,
      pictureRate: 29.98,
      dotAspect: 1,
    });
  });

  it('reads interlaced pictures with dots that are not square in the words of 2018', () => {
    const stream = streamOf(
      '    Stream #0:0(und): Video: h264 (High) (avc1 / 0x31637661), yuv420p(tv, smpte170m/bt470bg/smpte170m, top coded first (swapped)), 1440x1080 [SAR 4:3 DAR 16:9], 745 kb/s, 25 fps, 25 tbr, 1k tbn, 50 tbc (default)',
    );
    expect(stream.isInterlaced).toBe(true);
    expect(stream.dotAspect).toBeCloseTo(4 / 3, 9);
    expect(stream.colour).toEqual({ matrix: 'smpte170m', primaries: 'bt470bg', transfer: 'smpte170m', range: 'tv' });
  });

  it('takes one name for all three, and nothing for unknown', () => {
    const line = (format: string) =>
      `    Stream #0:0: Video: h264 (High), ${format}, 1920x1080, 30 fps, 30 tbr, 15360 tbn`;
    const all = { matrix: 'bt709', primaries: 'bt709', transfer: 'bt709', range: 'tv' };
    expect(streamOf(line('yuv420p(tv, bt709, progressive)')).colour).toEqual(all);
    const unknown = { matrix: 'unknown', primaries: 'unknown', transfer: 'unknown' };
    expect(streamOf(line('yuv420p(progressive)')).colour).toEqual({ ...unknown, range: 'unknown' });
    expect(streamOf(line('yuvj420p(pc)')).colour).toEqual({ ...unknown, range: 'pc' });
    expect(streamOf(line('yuv420p')).colour).toEqual({ ...unknown, range: 'unknown' });
  });
});
