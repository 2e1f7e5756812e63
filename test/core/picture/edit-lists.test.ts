import { describe, expect, it } from 'vitest';
import { type EditList, evenStretches } from '../../../core/picture/edit-list.ts';
import { edlText } from '../../../core/picture/edl.ts';
import { otioText } from '../../../core/picture/otio.ts';
import { dropTimeCode, timeCode } from '../../../core/picture/time-code.ts';
import { takeSecOf } from '../../../core/signal/clock.ts';

const NTSC = { over: 30000, under: 1001 };

function list(rate = { over: 25, under: 1 }): EditList {
  const clip = {
    name: 'descant',
    path: '../takes/1 Descant ü#.mov',
    fromSec: 2.51,
    fileSec: 60,
    rate: { over: 30, under: 1 },
    atSec: 0.4,
    lengthSec: 30,
    driftPpm: 40,
  };
  return {
    name: 'Evening Canon',
    rate,
    tracks: [
      { name: 'descant', kind: 'Video', clips: [clip] },
      { name: 'bass', kind: 'Video', clips: [{ ...clip, name: 'bass', path: '../takes/1 descant ü#.mp4', atSec: 0 }] },
      { name: 'mix', kind: 'Audio', clips: [{ ...clip, path: 'mix.wav', driftPpm: 0, atSec: 0 }] },
    ],
  };
}

describe('time codes', () => {
  it('leave out the numbers that SMPTE ST 12-1 leaves out at 29.97 (CV-5.7)', () => {
    const told: readonly [number, string][] = [
      [0, '00:00:00;00'],
      [1799, '00:00:59;29'],
      [1800, '00:01:00;02'],
      [17982, '00:10:00;00'],
      [107892, '01:00:00;00'],
      [2589407, '23:59:59;29'],
    ];
    for (const [picture, code] of told) expect(dropTimeCode(picture, NTSC)).toBe(code);
  });

  it('count every picture otherwise', () => {
    expect(timeCode(25 * 3661 + 7, { over: 25, under: 1 })).toBe('01:01:01:07');
    expect(timeCode(1800, NTSC)).toBe('00:01:00:00');
  });
});

describe('an OpenTimelineIO list (CV-8.6)', () => {
  it('holds a track a voice, gaps, source ranges below a picture, relative URLs and the drift', () => {
    const timeline = JSON.parse(otioText(list()));
    expect(timeline.OTIO_SCHEMA).toBe('Timeline.1');
    const [descant, bass, mix] = timeline.tracks.children;
    expect([descant.OTIO_SCHEMA, descant.kind, mix.kind]).toEqual(['Track.1', 'Video', 'Audio']);
    const [gap, clip] = descant.children;
    expect([gap.OTIO_SCHEMA, gap.source_range.duration.value, gap.source_range.duration.rate]).toEqual([
      'Gap.1',
      10,
      25,
    ]);
    expect(clip.OTIO_SCHEMA).toBe('Clip.2');
    expect(clip.source_range.start_time).toMatchObject({ OTIO_SCHEMA: 'RationalTime.1', rate: 30, value: 75.3 });
    expect(clip.source_range.duration.value).toBeCloseTo(900, 6);
    expect(clip.media_references[clip.active_media_reference_key].target_url).toBe(
      '../takes/1%20Descant%20%C3%BC%23.mov',
    );
    expect(clip.effects[0].time_scalar).toBeCloseTo(1.00004, 9);
    expect(bass.children).toHaveLength(1);
    expect(mix.children[0].source_range.start_time.value).toBe(120480);
    expect(mix.children[0].effects).toEqual([]);
  });
});

describe('a CMX3600 list (CV-8.7)', () => {
  it('numbers its events, keeps reels apart in 8 signs, and ends after the last picture', () => {
    const { text } = edlText(list());
    const lines = text.split('\r\n');
    expect(lines.slice(0, 2)).toEqual(['TITLE: Evening Canon', 'FCM: NON-DROP FRAME']);
    const events = lines.filter((line) => /^\d{3} /.test(line));
    expect(events[0]).toBe('001  1DESCANT V     C        00:00:02:13 00:00:32:13 01:00:00:10 01:00:30:10');
    expect(events[1]!.slice(5, 13)).toBe('1DESCAN2');
    expect(events[2]!.slice(14, 15)).toBe('A');
    expect(text).toContain('* FROM CLIP NAME: 1 Descant ü#.mov');
  });

  it('counts with dropped numbers at 29.97 and says that half a picture is lost', () => {
    const { text, notes } = edlText(list(NTSC));
    expect(text).toContain('FCM: DROP FRAME');
    expect(text).toMatch(/01:00:00;\d\d/);
    expect(notes.join(' ')).toContain('half a picture');
  });
});

describe('the stretches of a clip in an edit list', () => {
  const bends = [
    { takeSec: 10, jumpSec: 0.02, driftPpm: 30 },
    { takeSec: 20, jumpSec: 0, driftPpm: -10 },
    { takeSec: 30, jumpSec: 2, driftPpm: -10 },
  ];
  const clock = { offsetSec: 1, driftPpm: 30, bends };

  it('is one for a clock that runs evenly', () => {
    const [one, other] = evenStretches({ offsetSec: 1, driftPpm: 30 }, 2, 12);
    expect(other).toBeUndefined();
    expect(one).toMatchObject({ atSec: 2, lengthSec: 10 });
    expect(one!.fromSec).toBeCloseTo(1.00003, 9);
    expect(one!.driftPpm).toBeCloseTo(30, 6);
  });

  it('are cut where the clock bends; 20 ms that are lost are closed, 2 s are left open', () => {
    const all = evenStretches(clock, 2, 45);
    expect(all.map(({ driftPpm }) => Math.round(driftPpm))).toEqual([30, 30, -10, -10]);
    for (const { fromSec, atSec, lengthSec } of all) {
      const middle = atSec + lengthSec / 2;
      expect(takeSecOf(clock, middle)).toBeCloseTo(fromSec + (middle - atSec), 3);
    }
    const gaps = all.slice(1).map(({ atSec }, n) => atSec - all[n]!.atSec - all[n]!.lengthSec);
    for (const [n, gap] of [0, 0, 2].entries()) expect(gaps[n]).toBeCloseTo(gap, 9);
  });
});
