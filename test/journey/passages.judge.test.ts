import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import type { PartsongChecks } from '../../renderer/playback/for-checks.ts';
import { seriousFaults } from '../axe.ts';
import { goTo, keepScreens } from './desk-in-browser.ts';
import { journeyOf, madeClip, sample } from './journey.ts';

const takes = join(sample, 'takes');

let page: Page;
let complaints: string[];
let clips: string[];

/** Two takes of the viol, the second later and softer and clipped, and one of the bass. */
function madeClips(home: string): string[] {
  const folder = join(home, 'clips');
  mkdirSync(folder);
  const make = (from: string, name: string, filter: string): string =>
    madeClip(['-i', join(takes, from), '-vn', '-af', filter, '-ac', '1'], join(folder, name));
  return [
    make('3 Treble viol.m4a', 'viol take 1.wav', 'anull'),
    make('3 Treble viol.m4a', 'viol take 2.wav', 'adelay=400,volume=-5dB'),
    make('4 Bass viol.mov', 'bass.wav', 'anull'),
  ];
}

const journey = journeyOf('passages', async (begun) => {
  ({ page, complaints } = begun);
  clips = madeClips(begun.home);
});

const savedSession = () => journey.savedSession();

/** The session is saved within a second of a change, on a busy machine somewhat later. */
const SAVED = { timeout: 10_000 };
const savedVoice = () => savedSession().voices[0]!;

describe('a voice with two takes', () => {
  it('has a take sheet with the measured figures, and keeps mark and remark', async () => {
    await page.getByLabel('Title of the new session').fill('Two takes');
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    const [chooser] = await Promise.all([
      page.waitForEvent('filechooser'),
      page
        .getByRole('button', { name: /^Add clips|^Choose clips/ })
        .first()
        .click(),
    ]);
    await chooser.setFiles(clips);
    await goTo(page, 'Takes');
    await page.getByText(/Proposed: viol take/).waitFor({ timeout: 90_000 });
    await page.getByLabel('Your mark for viol take 2').selectOption('best');
    await page.getByText('Proposed: viol take 2.').waitFor();
    await page.getByLabel('Your remark on viol take 2').fill('warmer');
    await page.keyboard.press('Enter');
    expect(await seriousFaults(page)).toEqual([]);
  }, 120_000);

  it('is heard alone only while it is listened to: after a pause, and on another bench, all are heard again', async () => {
    const heardAlone = (): Promise<string | null> =>
      page.evaluate(() => (globalThis as unknown as { partsongChecks: PartsongChecks }).partsongChecks.heardAlone());
    const listen = page.getByRole('button', { name: 'Listen to viol take 2 alone' });
    await listen.click();
    await expect.poll(heardAlone).toBe(savedSession().takes[1]!.id);
    await page.locator('.transport-play', { hasText: /Pause|Stop/ }).click();
    await expect.poll(heardAlone).toBeNull();
    await listen.click();
    await expect.poll(heardAlone).not.toBeNull();
    await goTo(page, 'Blend');
    await expect.poll(heardAlone).toBeNull();
    await page.locator('.transport-play', { hasText: /Pause|Stop/ }).click();
    await goTo(page, 'Takes');
  }, 60_000);

  it('uses a stretch of the second take, by the keyboard alone, joined where the sound lets it', async () => {
    await page.getByRole('button', { name: 'Unfold the takes of viol' }).click();
    await page.getByRole('row', { name: /^viol take 2 of viol/ }).focus();
    await page.keyboard.press('Home');
    for (let n = 0; n < 30; n++) await page.keyboard.press('ArrowRight');
    for (let n = 0; n < 15; n++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+F10');
    await page.getByRole('menuitem', { name: 'Use this take here' }).click();
    const passages = page.getByRole('region', { name: 'Passages of viol' });
    await passages
      .getByText(/(in a rest|just before a note|within a tone), fade \d+ ms/)
      .nth(1)
      .waitFor();
    await expect.poll(() => savedVoice().passages?.length, SAVED).toBe(3);
    await page.getByRole('row', { name: /^viol, .*made of passages: take 1, take 2 from/ }).waitFor();
    await keepScreens(page, '12-passages');
    expect(await seriousFaults(page)).toEqual([]);
  });

  it('moves a join later, hears it, and takes it away; undo brings it back', async () => {
    const before = savedVoice().passages![1]!.fromSec;
    await page.getByRole('button', { name: /^Move join 1 of viol.*, later/ }).click();
    await expect.poll(() => savedVoice().passages![1]!.fromSec, SAVED).toBeGreaterThan(before);
    const later = page.getByRole('button', { name: /^Move join 1 of viol.*, later/ });
    // It is pressed again and again: the keyboard's place must stay on it.
    await later.press('Enter');
    await page.getByText(/^The join is at \d+:\d+\.\d+ now/).waitFor({ state: 'attached' });
    expect(await later.evaluate((button) => button === button.ownerDocument.activeElement)).toBe(true);
    await page.getByRole('button', { name: /^Hear it: join 1 of viol/ }).click();
    // A piece of work can have a Stop of its own.
    await page.getByRole('button', { name: /^Pause$|^Stop$/ }).waitFor();
    await page.getByRole('button', { name: /^Play/ }).waitFor({ timeout: 15_000 });
    await page.getByRole('button', { name: /^Remove join 2 of viol/ }).click();
    await expect.poll(() => savedVoice().passages?.length, SAVED).toBe(2);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await expect.poll(() => savedVoice().passages?.length, SAVED).toBe(3);
    expect(complaints).toEqual([]);
  }, 90_000);
});
