import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import type { Session } from '../../core/session/schema.ts';
import { seriousFaults } from '../axe.ts';
import { dropFiles, goTo, keepScreens, untilReady } from './desk-in-browser.ts';
import { journeyOf, madeClip, sample } from './journey.ts';

const takes = join(sample, 'takes');

let page: Page;
let complaints: string[];

/** One clip with picture in which the bass plays the piece twice, and the viol. */
function madeClips(home: string): string[] {
  const folder = join(home, 'clips');
  mkdirSync(folder);
  const twice = ['-stream_loop', '1', '-i', join(takes, '4 Bass viol.mov'), '-c:v', 'libx264', '-preset', 'ultrafast'];
  return [
    madeClip([...twice, '-c:a', 'aac'], join(folder, 'bass viol.mov')),
    madeClip(['-i', join(takes, '3 Treble viol.m4a'), '-vn', '-ac', '1'], join(folder, 'treble viol.wav')),
  ];
}

const journey = journeyOf('parts', async (begun) => {
  ({ page, complaints } = begun);
  const clips = madeClips(begun.home);
  await page.getByText('Drop your clips here').waitFor();
  await dropFiles(page, clips);
  await page.locator('nav.order').waitFor();
});

const saved = (): Session => journey.savedSession();

/** Greatest distance of the shown pictures from what is heard, s, over 30 looks, and the takes they are of. */
async function offNow(): Promise<{ most: number; takes: string[] }> {
  const places = Object.fromEntries(
    saved().takes.map(({ id, placement, part }) => [id, { ...placement!, fromSec: part?.fromSec ?? 0 }]),
  );
  return page.evaluate(async (known) => {
    const checks = (globalThis as unknown as { partsongChecks: { positionFrame(): number } }).partsongChecks;
    const takes = new Set<string>();
    let most = 0;
    for (let n = 0; n < 30; n++) {
      await new Promise(requestAnimationFrame);
      for (const video of document.querySelectorAll<HTMLVideoElement>('.picture-video')) {
        if (getComputedStyle(video).visibility === 'hidden' || video.hidden) continue;
        const { offsetSec, driftPpm, fromSec } = known[video.dataset['take']!]!;
        const wanted = (checks.positionFrame() / 48000 - offsetSec) * (1 + driftPpm * 1e-6) + fromSec;
        most = Math.max(most, Math.abs(video.currentTime - wanted));
        takes.add(video.dataset['take']!);
      }
    }
    return { most, takes: [...takes] };
  }, places);
}

describe('a clip with two takes, on the real desk', () => {
  it('tells which clips went to which voice, and offers to make two takes of the clip', async () => {
    await goTo(page, 'Takes');
    await page.getByText('2 clips came in.').waitFor();
    await keepScreens(page, '13-clips-came-in');
    await page.getByRole('button', { name: 'That is right' }).click();
    await page.getByText('This clip seems to hold 2 takes.').waitFor({ timeout: 90_000 });
    await keepScreens(page, '13-several-takes');
    expect(await seriousFaults(page)).toEqual([]);
    const bound = page.getByRole('slider', { name: 'Bound between takes 1 and 2 of bass viol' });
    const before = Number(await bound.getAttribute('aria-valuenow'));
    await bound.focus();
    await page.keyboard.press('ArrowRight');
    await expect.poll(async () => Number(await bound.getAttribute('aria-valuenow'))).toBeCloseTo(before + 0.1, 1);
    await page.getByRole('button', { name: 'Make 2 takes of it' }).focus();
    await page.keyboard.press('Enter');
    const focused = (): Promise<string | undefined> =>
      page.evaluate(
        () => document.activeElement?.closest('tr')?.querySelector<HTMLInputElement>('.takes-name input')?.value,
      );
    await expect.poll(focused).toBe('bass viol, 1');
    await page.getByText(/Proposed: bass viol, [12]\./).waitFor({ timeout: 60_000 });
    await untilReady(page);
    await expect
      .poll(() => saved().takes.map(({ name }) => name))
      .toEqual(['bass viol, 1', 'treble viol', 'bass viol, 2']);
    // What was ready before stays so until the parts are listened to.
    await expect
      .poll(() => saved().takes.map(({ placement }) => placement !== null), { timeout: 60_000 })
      .toEqual([true, true, true]);
    const [first, , second] = saved().takes;
    expect(second!.part!.fromSec).toBeCloseTo(first!.part!.toSec, 3);
    await page.getByRole('button', { name: 'More for bass viol, 2' }).click();
    const begins = page.getByLabel('Where bass viol, 2 begins in its clip, seconds');
    await begins.fill('43');
    await begins.press('Enter');
    await keepScreens(page, '13-part-of-clip');
    await expect.poll(() => saved().takes[2]!.part!.fromSec).toBe(43);
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: /^Undo/ }).click();
    await expect.poll(() => saved().takes[2]!.part!.fromSec).toBeCloseTo(second!.part!.fromSec, 6);
    await untilReady(page);
  }, 150_000);

  it('lets the voice be made of passages of both, and compares their timing and pitch when asked', async () => {
    await page.getByRole('button', { name: /^Compare timing and pitch, too/ }).click();
    await page
      .getByText(/spread \d+ cents/)
      .first()
      .waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Unfold the takes of bass viol' }).click();
    await page.getByRole('row', { name: /^bass viol, 2 of bass viol/ }).focus();
    await page.keyboard.press('Home');
    for (let n = 0; n < 30; n++) await page.keyboard.press('ArrowRight');
    for (let n = 0; n < 15; n++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+F10');
    await page.getByRole('menuitem', { name: 'Use this take here' }).click();
    await expect.poll(() => saved().voices[0]!.passages?.length, { timeout: 30_000 }).toBe(3);
    await untilReady(page);
  }, 120_000);

  it('shows in the preview what is heard, in a passage of either take, within 5 ms when it stands', async () => {
    await goTo(page, 'Picture');
    await page.waitForFunction(
      () =>
        [...document.querySelectorAll<HTMLVideoElement>('.picture-video[data-source="proxy"]')].some(
          (one) => one.videoWidth > 0,
        ),
      undefined,
      { timeout: 60_000, polling: 250 },
    );
    const { passages } = saved().voices[0]!;
    const seen = new Set<string>();
    for (const passage of passages!) {
      const middleSec = Math.max(8, (Math.max(0, passage.fromSec) + Math.min(35, passage.toSec)) / 2);
      await page.evaluate(
        (frame) => {
          (globalThis as unknown as { partsongChecks: { seek(frame: number): void } }).partsongChecks.seek(frame);
        },
        Math.round(48000 * middleSec),
      );
      await page.waitForTimeout(1500);
      const { most, takes } = await offNow();
      expect(most).toBeLessThan(0.005);
      expect(takes).toEqual([passage.takeId]);
      seen.add(takes[0]!);
    }
    expect(seen.size).toBe(2);
    await keepScreens(page, '14-picture-of-passages');
    expect(complaints).toEqual([]);
  }, 60_000);
});
