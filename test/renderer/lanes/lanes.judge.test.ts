import type { Page } from 'playwright-core';
import { beforeEach, describe, expect, it } from 'vitest';
import { BY_COLOUR, seriousFaults } from '../../axe.ts';
import { type StandInScreen, standInScreen } from '../../stand-in/stand-in-screen.ts';

let screen: StandInScreen;
let page: Page;

standInScreen((begun) => {
  screen = begun;
});

beforeEach(async () => {
  page = await screen.open('takes=2&guide');
  await row(0).waitFor();
});

const row = (index: number) => page.locator('.lanes-row').nth(index);
const words = async (index: number): Promise<string> => (await row(index).getAttribute('aria-label')) ?? '';

/** Drags in the first lane between two shares of its width. */
async function drag(from: number, to: number): Promise<void> {
  const field = (await row(0).locator('.lanes-field').boundingBox())!;
  const y = field.y + field.height / 2;
  await page.mouse.move(field.x + from * field.width, y);
  await page.mouse.down();
  await page.mouse.move(field.x + to * field.width, y, { steps: 4 });
  await page.mouse.up();
}

/** How many pixels of the canvas stand out from the paper by far: what is drawn at all. */
function strongPixels(): Promise<number> {
  return page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('.lanes-canvas')!;
    const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
    let count = 0;
    for (let n = 0; n < data.length; n += 4) if (data[n]! < 40 && data[n + 2]! > 120) count++;
    return count;
  });
}

describe('lanes on the page', () => {
  for (const scheme of ['light', 'dark'] as const) {
    it(`have no serious fault for axe when it is ${scheme}`, async () => {
      await page.emulateMedia({ colorScheme: scheme });
      await page.locator('.lanes-fold').first().click();
      expect(await seriousFaults(page, '.lanes', scheme === 'light' ? undefined : BY_COLOUR)).toEqual([]);
      await page.emulateMedia({ colorScheme: 'light' });
    });
  }

  it('draw the waveforms of the desk in the colour of their voice', async () => {
    await expect.poll(strongPixels, { timeout: 8000 }).toBeGreaterThan(5000);
  });

  it("learn the noise from a stretch that was dragged, by the menu, in the take's own time", async () => {
    await drag(0.03, 0.06);
    await row(0)
      .locator('.lanes-field')
      .click({ button: 'right', position: { x: 30, y: 20 } });
    await page.getByRole('menuitem', { name: 'Learn the noise here' }).click();
    await expect.poll(() => words(0)).toMatch(/silence, chosen by you from 0:0[01]\.\d to 0:0[23]\.\d/);
  });

  it('are walked through, selected in and unfolded by keyboard alone', async () => {
    await row(0).focus();
    await page.keyboard.press('ArrowDown');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-label'))).toContain('Alto recorder');
    await page.keyboard.press('t');
    await expect.poll(() => page.locator('.lanes-row').count()).toBe(6);
    await page.keyboard.press('Enter');
    await expect.poll(() => row(1).getAttribute('aria-selected')).toBe('true');
    for (let n = 0; n < 4; n++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+F10');
    await page.getByRole('menuitem', { name: 'Zoom to this stretch' }).waitFor();
    await page.keyboard.press('Escape');
    await page.keyboard.press('Escape');
    await page.keyboard.press('Shift+F10');
    await expect.poll(() => page.getByRole('menuitem', { name: 'Zoom to this stretch' }).count()).toBe(0);
  });

  it('have the guide line above them, in which a stretch is selected by keyboard, played and let go', async () => {
    await page.getByRole('group', { name: /^Guide/ }).focus();
    await page.keyboard.press('Home');
    for (let n = 0; n < 4; n++) await page.keyboard.press('ArrowRight');
    for (let n = 0; n < 6; n++) await page.keyboard.press('Shift+ArrowRight');
    const selected = page.locator('.lanes-selected');
    await expect.poll(() => selected.textContent()).toMatch(/\d s/);
    await page.keyboard.press('Shift+F10');
    expect(await page.getByRole('menuitem').allInnerTexts()).toEqual([
      'Play this stretch',
      'Repeat this stretch',
      'Zoom to this stretch',
      'Clear the selection',
    ]);
    await page.getByRole('menuitem', { name: 'Clear the selection' }).click();
    await expect.poll(() => selected.textContent()).toBe('');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('data-lane'))).toBe('guide');
    await page.keyboard.press('ArrowDown');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('role'))).toBe('row');
  });

  it('move the take in hand by 1 ms a key in the step "Line up", one step of undo for the run', async () => {
    await page.getByLabel('Running order').getByText('Line up', { exact: true }).click();
    await row(0).focus();
    await page.keyboard.press('Enter');
    for (let n = 0; n < 3; n++) await page.keyboard.press('.');
    await expect.poll(() => words(0)).toContain('placed at −0:00.397 by hand');
    await page.getByRole('button', { name: /^Undo/ }).click();
    await expect.poll(() => words(0)).toContain('placed at −0:00.400,');
  });

  it('go where their scrollbar is put, and stay there', async () => {
    await row(0).focus();
    for (let n = 0; n < 6; n++) await page.keyboard.press('+');
    const bar = page.getByRole('region', { name: 'Scroll the time line' });
    await expect.poll(() => bar.evaluate((box) => box.scrollWidth)).toBeGreaterThan(20_000);
    await page.evaluate(() => new Promise((resolve) => setTimeout(resolve, 300)));
    await bar.evaluate((box) => {
      box.scrollLeft = 5000;
    });
    await page.evaluate(() => new Promise((resolve) => setTimeout(resolve, 600)));
    expect(Math.abs((await bar.evaluate((box) => box.scrollLeft)) - 5000)).toBeLessThanOrEqual(1);
  });

  it('zoom from the whole piece to single samples by the + key', async () => {
    const slider = page.getByRole('slider', { name: 'Zoom' });
    await row(0).focus();
    for (let n = 0; n < 24; n++) await page.keyboard.press('+');
    await expect.poll(() => slider.getAttribute('aria-valuetext')).toMatch(/0\.\d ms in view/);
    await page.keyboard.press('0');
    await expect.poll(() => slider.getAttribute('aria-valuetext')).toMatch(/1 min \d s in view/);
  });
});
