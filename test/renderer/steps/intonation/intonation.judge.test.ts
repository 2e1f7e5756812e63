import type { Page } from 'playwright-core';
import { beforeEach, describe, expect, it } from 'vitest';
import { seriousFaults } from '../../../axe.ts';
import { type StandInScreen, standInScreen } from '../../../stand-in/stand-in-screen.ts';

const PARTS = ['All together', 'Voice by voice', 'Early and late', 'Note by note', 'Mend'] as const;

let screen: StandInScreen;
let page: Page;
let complaints: string[] = [];

standInScreen((begun) => {
  screen = begun;
});

beforeEach(async () => {
  page?.removeAllListeners('pageerror');
  complaints = [];
  page = await screen.open('guide&bars=24&pitch&quiet');
  page.on('pageerror', (error) => complaints.push(error.message));
  await page.getByLabel('Running order').getByText('Intonation', { exact: true }).click();
  await page.getByRole('heading', { name: 'The worst chords' }).waitFor();
});

const show = (part: (typeof PARTS)[number]): Promise<void> => page.getByRole('radio', { name: part }).check();
const inHand = () => page.locator('.intonation-in-hand');

/** Clicks a voice's lane at a share of its width. */
async function clickLane(voice: number, share: number): Promise<void> {
  const field = (await page.locator('.lanes-row').nth(voice).locator('.lanes-field').boundingBox())!;
  await page.mouse.click(field.x + share * field.width, field.y + field.height / 2);
}

/** Pixels of the canvas that have the colour of a theme's token. */
function pixelsOf(token: string): Promise<number> {
  return page.evaluate((name) => {
    const hex = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    const [red, green, blue] = [1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16));
    const canvas = document.querySelector<HTMLCanvasElement>('.lanes-canvas')!;
    const { data } = canvas.getContext('2d')!.getImageData(0, 166, canvas.width, canvas.height - 166);
    let count = 0;
    for (let n = 0; n < data.length; n += 4) {
      if (data[n] === red && data[n + 1] === green && data[n + 2] === blue) count++;
    }
    return count;
  }, token);
}

describe('the bench of Intonation', () => {
  for (const [scheme, parts] of [
    ['light', PARTS],
    ['dark', ['Early and late', 'Mend']],
  ] as const) {
    it(`has no serious fault for axe in ${parts.length} of its parts when it is ${scheme}`, async () => {
      await page.emulateMedia({ colorScheme: scheme });
      await clickLane(2, 0.5);
      for (const part of parts) {
        await show(part);
        expect(await seriousFaults(page, '.frame-bench'), part).toEqual([]);
      }
      await page.emulateMedia({ colorScheme: 'light' });
      expect(complaints).toEqual([]);
    });
  }

  it('draws pitch curves and notes that are off over the lanes, and leaves them with the step', async () => {
    await expect.poll(() => pixelsOf('--ink')).toBeGreaterThan(1500);
    expect(await pixelsOf('--wrong')).toBeGreaterThan(100);
    await page.getByLabel('Running order').getByText('Clean', { exact: true }).click();
    await expect.poll(() => pixelsOf('--ink')).toBeLessThan(200);
  });

  it('has the note in hand that was clicked in its lane, with its cents and ms, and marks its row', async () => {
    await show('Note by note');
    await clickLane(1, 0.527);
    await inHand().getByText('Alto recorder').waitFor();
    expect(await inHand().textContent()).toMatch(/bar 6, beat 1: [+−]?\d+ cents? \(± \d+ cents\).*ms (late|early)/);
    expect(await page.locator('tr[aria-current="true"]').textContent()).toMatch(/^bar 6, beat 1/);
  });

  it('finds by keyboard the note that is farthest off, and selects its stretch', async () => {
    await show('Note by note');
    await page.getByRole('combobox', { name: 'Voice' }).selectOption({ label: 'All voices' });
    await page.getByRole('radio', { name: 'out of tune' }).focus();
    await page.keyboard.press('Space');
    const above = page.getByRole('textbox', { name: 'off by more than' });
    await above.fill('25');
    await above.press('Enter');
    await page.getByRole('status').getByText('1 of 192 notes;').waitFor();
    await page.locator('.intonation-row-button').first().focus();
    await page.keyboard.press('Enter');
    await inHand().getByRole('button', { name: 'Select its stretch' }).click();
    await page.locator('.lanes-selected').getByText('bar 5').waitFor();
  });

  it('mends by a slider in one step of undo: the middle of the take follows at once', async () => {
    await show('Mend');
    await page.getByRole('combobox', { name: 'Take' }).selectOption({ label: 'Tenor viol: 03 Tenor viol' });
    await page.getByRole('status').getByText('as played.').waitFor();
    const slider = page.getByRole('slider', { name: 'Higher or lower' });
    await slider.focus();
    await slider.fill('18');
    for (let n = 0; n < 3; n++) await page.keyboard.press('ArrowRight');
    await page.getByText(/\d cents? as it is mended/).waitFor();
    await page.getByText('begins to sound different. Listen before and after.').waitFor();
    await page.getByRole('radio', { name: 'before mending' }).check();
    await page.getByRole('button', { name: /^Undo/ }).click();
    await expect.poll(() => slider.inputValue()).toBe('0');
    await expect.poll(() => page.getByRole('radio', { name: 'before mending' }).isDisabled()).toBe(true);
  });

  it('moves a selected stretch in time, lists it, and takes it back', async () => {
    await show('Mend');
    await clickLane(1, 0.527);
    await inHand().getByRole('button', { name: 'Select its stretch' }).click();
    const slider = page.getByRole('slider', { name: /^Later or earlier/ });
    await slider.focus();
    await slider.fill('-10');
    for (let n = 0; n < 2; n++) await page.keyboard.press('ArrowLeft');
    await page.getByRole('list', { name: 'Stretches that are moved' }).getByText('12 ms earlier').waitFor();
    await page.getByRole('button', { name: /^Remove the move/ }).click();
    await expect.poll(() => slider.inputValue()).toBe('0');
    await expect.poll(() => page.getByRole('list', { name: 'Stretches that are moved' }).count()).toBe(0);
  });
});
