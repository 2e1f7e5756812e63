import { describe, expect, it } from 'vitest';
import { GuidePicture, PICTURE_HEIGHT, PICTURE_WIDTH } from '../../../core/guide/guide-picture.ts';
import { type GuidePlan, planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { sceneAt } from '../../../core/guide/guide-scene.ts';
import { plainScore } from '../../../core/guide/plain-score.ts';
import { inLetters, letterMask } from '../../../core/letters/letter-mask.ts';

const planAt = (quartersPerMinute: number, beats = 4, unit = 4): GuidePlan =>
  planGuide(plainScore({ title: 'Round', quartersPerMinute, beats, unit, bars: 12 }), { ...usualGuide, cue: 'both' });
const LUMA = PICTURE_WIDTH * PICTURE_HEIGHT;

describe('what is seen of a guide', () => {
  const plan = planAt(80);
  const seen = (sec: number): string[] => {
    const { heading, big } = sceneAt(plan, Math.round(sec * 48000));
    return [heading, big];
  };

  it('counts the seconds of the silence down to its end', () => {
    expect(seen(1.31)).toEqual(['SILENCE', '5']);
    expect(seen(6.29)).toEqual(['SILENCE', '1']);
    expect(seen(6.31)).toEqual(['READY', '']);
  });

  it('shows three beats and then the clap, from its frame on', () => {
    const [cue] = plan.cues;
    expect(cue!.beatFrames.map((frame) => sceneAt(plan, frame).big)).toEqual(['1', '2', '3']);
    expect(sceneAt(plan, cue!.clapFrame - 1).big).toBe('3');
    expect(sceneAt(plan, cue!.clapFrame)).toMatchObject({ heading: 'NOW', big: 'CLAP' });
    expect(sceneAt(plan, cue!.clapFrame).dots.at(-1)).toEqual({ full: true, mark: true });
    expect(sceneAt(plan, plan.cues[1]!.clapFrame).foot).toBe('THE LAST CLAP');
  });

  it('counts the beats of the count-in up and those to the entry down', () => {
    const clicks = plan.clicks.filter((click) => click.countIn);
    expect(clicks.map((click) => sceneAt(plan, click.frame).big).join('')).toBe('12341234');
    expect(clicks.map((click) => sceneAt(plan, click.frame).foot.match(/\d+/)?.[0]).join('')).toBe('87654321');
  });

  it('shows bar and beat from their frame on, to the last', () => {
    for (const bar of plan.bars) {
      bar.beatFrames.forEach((frame, n) => {
        expect(sceneAt(plan, frame)).toMatchObject({ heading: `BAR ${bar.number}`, big: String(n + 1) });
      });
    }
    expect(sceneAt(plan, plan.musicEndFrame).part).toBe('still');
    expect(sceneAt(plan, plan.lengthFrames).part).toBe('over');
  });
});

/**
 * WCAG 2.2, 2.3.1: a flash is a pair of opposing changes of a tenth of the range or more; no more than three in a second,
 * unless the area is small. Small is a quarter of 341 x 256 of 1024 x 768 pixels, which is 2.8 % of a screen filled by it.
 */
describe('flashes', () => {
  const SMALL = 0.25 * ((341 * 256) / (1024 * 768));

  for (const [name, plan] of [
    ['60 quarters a minute', planAt(60)],
    ['176 quarters a minute', planAt(176)],
    ['300 quarters a minute', planAt(300)],
    ['6/8 at 240', planAt(240, 6, 8)],
    ['1/8 at 240', planAt(240, 1, 8)],
  ] as const) {
    it(`are no more than three in a second on more than 2.8 % of the picture: ${name}`, () => {
      const picture = new GuidePicture('Evening canon');
      const from = plan.countInFrame;
      const count = Math.min(200, Math.floor((plan.musicEndFrame - from) / 1920));
      const last = new Uint8Array(LUMA);
      const changes: Uint32Array[] = [];
      for (let n = 0; n < count; n++) {
        const now = picture.draw(sceneAt(plan, from + 1920 * n)).subarray(0, LUMA);
        changes.push(n > 0 ? changesOf(last, now) : new Uint32Array(0));
        last.set(now);
      }
      const lately = new Uint16Array(LUMA);
      let flashing = 0;
      for (let n = 0; n < count; n++) {
        flashing += cameAbove(lately, changes[n]!);
        if (n >= 25) flashing -= fellBelow(lately, changes[n - 25]!);
        expect(flashing / LUMA).toBeLessThan(SMALL);
      }
    });
  }
});

describe('letters', () => {
  it('there are for every text that is shown, in capitals with their marks, in Latin, Greek and Cyrillic', () => {
    expect(inLetters('Évening Canon – “für drei”')).toBe('ÉVENING CANON – “FÜR DREI”');
    expect(inLetters('Вечер 漢  Ψυχή')).toBe('ВЕЧЕР ΨΥΧΉ');
    for (const letter of "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.:,'/+()") {
      const { cover } = letterMask(letter, 40);
      expect(Math.max(...cover), letter).toBe(255);
    }
  });

  it('figures are all equally wide, so that a countdown stands still', () => {
    expect(new Set([...'0123456789'].map((figure) => letterMask(figure, 128).advance)).size).toBe(1);
  });
});

/** A tenth of the range of brightness, 219 steps. */
const TENTH = 21.9;

/** Changes that are three flashes. */
const THREE_FLASHES = 6;

// Loops over a picture are functions of their own, and pixels that stay as they are cost little: they took most of these tests.

/** The pixels that changed by more than a tenth. */
function changesOf(before: Uint8Array, now: Uint8Array): Uint32Array {
  const fours = now.length / 4;
  const [one, other] = [before, now].map(({ buffer, byteOffset }) => new Int32Array(buffer, byteOffset, fours));
  const changed: number[] = [];
  for (let four = 0; four < fours; four++) {
    if (one![four] === other![four]) continue;
    for (let i = 4 * four; i < 4 * four + 4; i++) if (Math.abs(now[i]! - before[i]!) > TENTH) changed.push(i);
  }
  return Uint32Array.from(changed);
}

/** Counts a change of each of the pixels; gives how many have more than three flashes since. */
function cameAbove(counts: Uint16Array, pixels: Uint32Array): number {
  let came = 0;
  for (const i of pixels) {
    counts[i] = counts[i]! + 1;
    if (counts[i] === THREE_FLASHES + 1) came++;
  }
  return came;
}

/** Forgets a change of each of the pixels; gives how many have no more than three flashes since. */
function fellBelow(counts: Uint16Array, pixels: Uint32Array): number {
  let fell = 0;
  for (const i of pixels) {
    counts[i] = counts[i]! - 1;
    if (counts[i] === THREE_FLASHES) fell++;
  }
  return fell;
}
