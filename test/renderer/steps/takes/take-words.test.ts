import { describe, expect, it } from 'vitest';
import { clippedWords, fileName, fileWords, peakWords } from '../../../../renderer/steps/takes/take-words.ts';

describe('what is said of a take', () => {
  it('remarks a peak at full scale, one below -30 dBFS, and none between', () => {
    expect(peakWords(0)).toBe('no room left');
    expect(peakWords(-0.05)).toBe('no room left');
    expect(peakWords(-31)).toBe('very soft');
    expect(peakWords(-6)).toBeNull();
    expect(peakWords(null)).toBeNull();
  });

  it('counts clipped spots and tells their length in ms or s', () => {
    expect(clippedWords({ clipped: [] })).toBe('none');
    expect(clippedWords({ clipped: [{ fromSec: 1, toSec: 1.004 }] })).toBe('1 spot, 4 ms');
    expect(
      clippedWords({
        clipped: [
          { fromSec: 1, toSec: 1.4 },
          { fromSec: 3, toSec: 3.1 },
        ],
      }),
    ).toBe('2 spots, 0.5 s');
  });

  it('does not count the clap among the clipped spots, as the judgement of takes does not', () => {
    const clipped = [
      { fromSec: 1, toSec: 1.1 },
      { fromSec: 9, toSec: 9.2 },
    ];
    expect(clippedWords({ clipped }, 1.2)).toBe('1 spot, 0.2 s');
    expect(clippedWords({ clipped: clipped.slice(0, 1) }, 1.2)).toBe('only the clap');
  });

  it('tells codec, rate, channels and picture of a file', () => {
    expect(fileWords({ codec: 'aac', rateHz: 44100, channels: 1, hasPicture: true })).toBe(
      'AAC, 44.1 kHz, mono, picture',
    );
    expect(fileWords({ codec: 'pcm_s16le', rateHz: 48000, channels: 2, hasPicture: false })).toBe(
      'PCM, 48 kHz, stereo',
    );
    expect(fileWords({ codec: '', rateHz: 0, channels: 0, hasPicture: false })).toBe('');
  });

  it('takes the name of a file from paths of either kind', () => {
    expect(fileName('/home/me/clips/alto.m4a')).toBe('alto.m4a');
    expect(fileName('C:\\clips\\alto.m4a')).toBe('alto.m4a');
  });
});
