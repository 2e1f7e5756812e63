import type { Locator, Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { BY_COLOUR, seriousFaults } from '../../../axe.ts';
import { type StandInScreen, standInScreen } from '../../../stand-in/stand-in-screen.ts';

let screen: StandInScreen;

standInScreen((begun) => {
  screen = begun;
});

async function benchOf(query: string, takeName: string): Promise<{ page: Page; bench: Locator }> {
  const page = await screen.open(query);
  await page.getByLabel('Running order').getByText('Line up', { exact: true }).click();
  const bench = page.getByRole('region', { name: 'Bench: Line up' });
  await bench.getByRole('button', { name: takeName, exact: true }).first().click();
  return { page, bench };
}

describe('the bench of Line up', () => {
  it('has no serious or critical fault for axe with a curve and pins, by day and by night, and its table opened', async () => {
    const { page, bench } = await benchOf('trail=pins&guide&bars=24', '02 Alto recorder');
    await bench.locator('details').evaluateAll((all) => all.map((one) => one.setAttribute('open', '')));
    await bench.getByRole('region', { name: 'Offset over time, as numbers' }).waitFor();
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      expect(await seriousFaults(page, '.frame-bench', colorScheme === 'light' ? undefined : BY_COLOUR)).toEqual([]);
    }
  });

  it('pins two moments by keys and by mouse, shows the pins, and takes them back one by one', async () => {
    const { page, bench } = await benchOf('trail&quiet', '01 Soprano recorder');
    const sound = bench.getByRole('slider', { name: '01 Soprano recorder, held for a pin' });
    const around = bench.getByRole('textbox', { name: 'around' });
    const pins = bench.getByRole('button', { name: /^Take away the pin/ });
    await sound.focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Shift+ArrowLeft');
    expect(await sound.getAttribute('aria-valuetext')).toContain('0.98 ms later');
    await bench.getByRole('button', { name: 'Pin here' }).click();
    await expect.poll(() => pins.count()).toBe(1);
    await around.fill('40');
    await around.press('Enter');
    const box = (await sound.boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + 20);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 0.02 * box.width, box.y + 20, { steps: 4 });
    await page.mouse.up();
    // 2 % of 100 ms.
    expect(await sound.getAttribute('aria-valuetext')).toMatch(/(1\.9|2\.0)\d ms later/);
    await bench.getByRole('button', { name: 'Pin here' }).click();
    await expect.poll(() => pins.count()).toBe(2);
    expect(await bench.getByText('by your 2 pins').count()).toBe(1);
    await bench.getByRole('checkbox', { name: /Sound is missing/ }).check();
    await expect.poll(() => bench.getByText(/ms missing/).count()).toBeGreaterThan(0);
    await pins.last().click();
    await pins.last().click();
    await expect.poll(() => bench.getByText('None yet.').count()).toBe(1);
    expect(await bench.getByText(/sure, 95/).count()).toBeGreaterThan(0);
  });

  it('refuses pins nearer than 5 s with a sentence, and offers to listen again where nothing was kept', async () => {
    const { bench } = await benchOf('trail&quiet', '04 Bass viol');
    expect(await bench.getByText('Nothing is kept of what was heard along this take').count()).toBe(1);
    const around = bench.getByRole('textbox', { name: 'around' });
    for (const sec of ['20', '23']) {
      await around.fill(sec);
      await around.press('Enter');
      await bench.getByRole('button', { name: 'Pin here' }).click();
    }
    await bench.getByRole('alert').getByText('lie only 3.0 s apart').waitFor();
  });
});
