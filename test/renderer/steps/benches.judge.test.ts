import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { BY_COLOUR, seriousFaults } from '../../axe.ts';
import { standInScreen } from '../../stand-in/stand-in-screen.ts';

let page: Page;

standInScreen(async (screen) => {
  page = await screen.open('');
});

async function toStep(name: string): Promise<void> {
  await page.getByLabel('Running order').getByText(name, { exact: true }).click();
  await page.getByRole('region', { name: `Bench: ${name}` }).waitFor();
}

/** Takes back what a test has done, so that the next one begins where this one did. */
async function undo(): Promise<void> {
  await page.getByRole('button', { name: /^Undo/ }).click();
}

describe('benches on the page', () => {
  for (const theme of ['day', 'night']) {
    it(`have no serious or critical fault for axe by ${theme}`, async () => {
      await page.emulateMedia({ colorScheme: theme === 'night' ? 'dark' : 'light' });
      const faults: string[] = [];
      for (const step of ['Clean', 'Line up', 'Blend']) {
        await toStep(step);
        await page.locator('.frame-bench details').evaluateAll((all) => all.map((one) => one.setAttribute('open', '')));
        faults.push(
          ...(await seriousFaults(page, '.frame-bench', theme === 'day' ? undefined : BY_COLOUR)).map(
            (fault) => `${step}: ${fault}`,
          ),
        );
      }
      expect(faults).toEqual([]);
    });
  }

  it('clean: a character reaches the session for one take, then for all as one step of undo', async () => {
    await toStep('Clean');
    const bench = page.getByRole('region', { name: 'Bench: Clean' });
    const firm = bench.getByRole('radio', { name: /^firm/ });
    const toAll = bench.getByRole('button', { name: 'Clean all takes like this' });
    await firm.check();
    await toAll.click();
    await expect.poll(() => toAll.isDisabled()).toBe(true);
    await bench.getByRole('button', { name: 'Next take' }).click();
    await expect.poll(() => firm.isChecked()).toBe(true);
    await undo();
    await expect.poll(() => firm.isChecked()).toBe(false);
    await bench.getByRole('button', { name: 'Previous' }).click();
    await expect.poll(() => firm.isChecked()).toBe(true);
    await undo();
    await expect.poll(() => firm.isChecked()).toBe(false);
  });

  it('clean: what was taken away stays what is heard when the next take comes to hand, and ends with the bench', async () => {
    await toStep('Clean');
    const bench = page.getByRole('region', { name: 'Bench: Clean' });
    const takenAway = bench.getByRole('radio', { name: 'taken away' });
    await takenAway.check();
    await bench.getByRole('button', { name: 'Next take' }).click();
    await bench.getByRole('heading', { name: '02 Alto recorder' }).waitFor();
    expect(await takenAway.isChecked()).toBe(true);
    await toStep('Blend');
    await toStep('Clean');
    expect(await takenAway.isChecked()).toBe(false);
    await bench.getByRole('button', { name: 'Previous' }).click();
  });

  it('clean: both spectrograms are painted', async () => {
    await toStep('Clean');
    const shades = () =>
      page.locator('.spectrogram-sheet canvas').evaluateAll((sheets) =>
        sheets.map((sheet) => {
          const canvas = sheet as HTMLCanvasElement;
          const pixels = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height).data;
          return new Set(pixels.filter((_, n) => n % 4 === 0)).size;
        }),
      );
    await expect.poll(async () => Math.min(...(await shades())), { timeout: 8000 }).toBeGreaterThan(20);
  });

  it('line up: a question is accepted, and a take moved with the arrow keys by 3 ms is one step of undo', async () => {
    await toStep('Line up');
    const bench = page.getByRole('region', { name: 'Bench: Line up' });
    await bench.getByRole('button', { name: '03 Tenor viol', exact: true }).click();
    await bench.getByRole('button', { name: 'It lies right' }).click();
    await expect.poll(() => bench.getByText('accepted by you').count()).toBe(1);
    const clap = bench.getByRole('slider', { name: 'Place of 03 Tenor viol' });
    await clap.focus();
    for (let n = 0; n < 3; n++) await page.keyboard.press('ArrowRight');
    await expect.poll(() => clap.getAttribute('aria-valuetext')).toContain('begins at 0.3030 s');
    await undo();
    await expect.poll(() => clap.getAttribute('aria-valuetext')).toContain('begins at 0.3000 s');
    await undo();
    await expect.poll(() => bench.getByRole('button', { name: 'It lies right' }).count()).toBe(1);
  });

  it('blend: a voice is moved on the stage by keys and by hand, and goes back to what was found', async () => {
    await toStep('Blend');
    const bench = page.getByRole('region', { name: 'Bench: Blend' });
    const mark = bench.getByRole('slider', { name: 'Place of Alto recorder' });
    await mark.focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('PageUp');
    await expect.poll(() => mark.getAttribute('aria-valuetext')).toBe('19 degrees left');
    const box = (await mark.locator('path').first().boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + 160, box.y + 12, { steps: 4 });
    await page.mouse.up();
    await expect.poll(() => mark.getAttribute('aria-valuetext')).toMatch(/right$/);
    await bench.getByRole('button', { name: 'Alto recorder as found' }).click();
    await expect.poll(() => mark.getAttribute('aria-valuetext')).toBe('30 degrees left');
    for (let n = 0; n < 2; n++) await undo();
    await expect.poll(() => mark.getAttribute('aria-valuetext')).toBe('19 degrees left');
    await undo();
    await expect.poll(() => mark.getAttribute('aria-valuetext')).toBe('30 degrees left');
  });

  it('blend: mute, role and fine move reach the session', async () => {
    await toStep('Blend');
    const bench = page.getByRole('region', { name: 'Bench: Blend' });
    const muted = bench.getByRole('button', { name: 'Bass viol muted' });
    await muted.click();
    await expect.poll(() => muted.getAttribute('aria-pressed')).toBe('true');
    await bench.getByLabel('Role of Bass viol').selectOption('free');
    await bench.getByRole('slider', { name: 'Fine move of Bass viol' }).fill('3');
    await expect.poll(() => bench.getByText('+3.0 dB by you').count()).toBe(1);
    for (let n = 0; n < 3; n++) await undo();
    await expect.poll(() => muted.getAttribute('aria-pressed')).toBe('false');
  });
});
