import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { dropFiles, untilReady } from './desk-in-browser.ts';
import { journeyOf, madeClip, sample } from './journey.ts';

/** Parts of a job on the real desk without a mouse: nothing below clicks, points or gives the focus by other means than keys. */

const takes = join(sample, 'takes');

let page: Page;
let complaints: string[];
/** Stops of the tab key where one does not see where one is. */
const unseen: string[] = [];

const journey = journeyOf('keyboard', async (begun) => {
  ({ page, complaints } = begun);
  const folder = join(begun.home, 'clips');
  mkdirSync(folder);
  const make = (from: string, name: string, filter: string): string =>
    madeClip(['-i', join(takes, from), '-vn', '-af', filter, '-ac', '1'], join(folder, name));
  const clips = [
    make('3 Treble viol.m4a', 'viol take 1.wav', 'volume=-5dB'),
    make('3 Treble viol.m4a', 'viol take 2.wav', 'adelay=400'),
    make('4 Bass viol.mov', 'bass.wav', 'anull'),
  ];
  await page.getByText('Drop your clips here').waitFor();
  await dropFiles(page, clips);
  await page.locator('nav.order').waitFor();
  await untilReady(page);
});

/** What has the focus; `fault` where it cannot be seen: no outline, outside the window, or covered (WCAG 2.2, 2.4.7 and 2.4.11). */
function focused(): Promise<{ name: string; fault: string | null }> {
  return page.evaluate(() => {
    const element = document.activeElement;
    if (element === null || element === document.body) return { name: '', fault: 'nothing has the focus' };
    const { labels } = element as HTMLInputElement;
    const name = (element.getAttribute('aria-label') ?? labels?.[0]?.textContent ?? element.textContent ?? '')
      .replaceAll(/\s+/g, ' ')
      .trim();
    const { left, top, right, bottom } = element.getBoundingClientRect();
    const [x, y] = [(Math.max(0, left) + Math.min(innerWidth, right)) / 2, (top + bottom) / 2];
    const there = document.elementFromPoint(x, Math.max(0, Math.min(innerHeight - 1, y)));
    const isCovered = there === null || !(element.contains(there) || there.contains(element));
    const isLabel = [...(labels ?? [])].some((label) => label.contains(there));
    const fault =
      getComputedStyle(element).outlineStyle === 'none'
        ? 'no outline'
        : bottom <= 0 || top >= innerHeight
          ? 'outside the window'
          : isCovered && !isLabel
            ? `covered by ${there?.className}`
            : null;
    return { name, fault };
  });
}

/** Presses Tab, or Shift and Tab, until what has the focus is called so; every stop on the way must be seen. */
async function tabTo(name: RegExp, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  const passed: string[] = [];
  for (let n = 0; n < 70; n++) {
    await page.keyboard.press(key);
    const now = await focused();
    if (now.fault !== null) unseen.push(`${now.name}: ${now.fault}`);
    if (name.test(now.name)) return;
    passed.push(now.name);
  }
  throw new Error(`no stop of ${key} is called ${name}, but ${passed.join(', ')}`);
}

/** After what was pressed has changed the screen: something on the bench has the focus. */
const isOnBench = (): Promise<boolean> => page.evaluate(() => document.activeElement?.closest('.frame-bench') !== null);

const SAVED = { timeout: 15_000 };

describe('without a mouse', () => {
  it('the way past the lanes, and a number, lead to the bench of a step', async () => {
    await page.keyboard.press('o');
    expect((await focused()).name).toContain('Takes');
    await tabTo(/^To the bench of Takes/);
    await page.keyboard.press('Enter');
    expect(await isOnBench()).toBe(true);
    await page.keyboard.press('?');
    await page.getByRole('heading', { name: 'Help', exact: true }).waitFor();
    await page.keyboard.press('Escape');
    await expect.poll(isOnBench).toBe(true);
  });

  it('a take is marked, remarked on, looked at closer and chosen; the keyboard keeps its place', async () => {
    await tabTo(/^That is right$/);
    await page.keyboard.press('Enter');
    await expect.poll(isOnBench).toBe(true);
    await tabTo(/^Your mark for viol take 2/);
    await page.keyboard.press('b');
    await tabTo(/^Your remark on viol take 2/);
    await page.keyboard.type('warmer');
    await page.keyboard.press('Enter');
    expect((await focused()).name).toBe('Your remark on viol take 2');
    const second = () => journey.savedSession().takes.find(({ name }) => name === 'viol take 2')!;
    await expect.poll(() => [second().mark, second().remark], SAVED).toEqual(['best', 'warmer']);
    await tabTo(/^More for viol take 2/, 'Shift+Tab');
    await page.keyboard.press('Enter');
    await page.getByRole('dialog', { name: 'More for viol take 2' }).waitFor();
    await page.keyboard.press('Escape');
    await expect.poll(async () => (await focused()).name).toBe('More for viol take 2');
    await tabTo(/^Let it sound: viol take 2/, 'Shift+Tab');
    await page.keyboard.press('Enter');
    await expect.poll(() => journey.savedSession().voices[0]!.chosenTakeId, SAVED).toBe(second().id);
    // The button is gone with what it did; its row goes on.
    await expect.poll(isOnBench).toBe(true);
    await untilReady(page);
  }, 120_000);

  it('pitch is listened to, a chord is heard, a take is mended and that is taken back', async () => {
    await page.keyboard.press('6');
    await expect.poll(isOnBench).toBe(true);
    await tabTo(/^Listen to the pitch$/);
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { name: 'The worst chords' }).waitFor({ timeout: 60_000 });
    await expect.poll(isOnBench).toBe(true);
    await tabTo(/^Listen to (bar|at) /);
    await page.keyboard.press('Enter');
    const stop = page.locator('.transport-play', { hasText: 'Stop' });
    await stop.waitFor();
    await stop.waitFor({ state: 'detached' });
    await tabTo(/^All together$/, 'Shift+Tab');
    for (let n = 0; n < 4; n++) await page.keyboard.press('ArrowRight');
    expect((await focused()).name).toBe('Mend');
    await tabTo(/^Higher or lower$/);
    for (let n = 0; n < 5; n++) await page.keyboard.press('ArrowRight');
    const mends = () => journey.savedSession().takes.map(({ mend }) => mend?.cents ?? 0);
    await expect.poll(mends, SAVED).toContain(5);
    await page.getByText('Mended: its pitch was moved by +5 cents as a whole.').waitFor();
    await page.keyboard.press('Control+z');
    await expect.poll(mends, SAVED).toEqual([0, 0, 0]);
    expect((await focused()).name).toBe('Higher or lower');
  }, 150_000);

  it('one always sees where one is, and the page complains of nothing', () => {
    expect(unseen).toEqual([]);
    expect(complaints).toEqual([]);
  });
});
