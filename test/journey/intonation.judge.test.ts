import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { seriousFaults } from '../axe.ts';
import { goTo, keepScreens, untilReady } from './desk-in-browser.ts';
import { journeyOf } from './journey.ts';

let page: Page;
let complaints: string[];

journeyOf('intonation', async (begun) => {
  ({ page, complaints } = begun);
  await page.getByRole('button', { name: 'Open the sample' }).click();
  await untilReady(page);
});

describe('the pitch of the sample', () => {
  it('is listened to when asked, and told with bar and beat, voice by voice', async () => {
    await goTo(page, 'Intonation');
    await page.getByRole('button', { name: 'Listen to the pitch', exact: true }).click();
    await page.getByRole('heading', { name: 'The worst chords' }).waitFor({ timeout: 60_000 });
    await page
      .getByText(/bar \d+, beat \d/)
      .first()
      .waitFor();
    await page.getByRole('radio', { name: 'Voice by voice' }).check();
    await page.getByRole('img', { name: 'Descant recorder: cents over time' }).waitFor();
    await page.getByRole('img', { name: 'Bass viol: cents over time' }).waitFor();
    await page.getByRole('radio', { name: 'All together' }).check();
    await keepScreens(page, '13-intonation');
    expect(await seriousFaults(page)).toEqual([]);
  }, 90_000);

  it('plays a chord from 1 s before it begins to 2 s after, then stops', async () => {
    await page
      .getByRole('button', { name: /^Listen to bar/ })
      .first()
      .click();
    const stop = page.locator('.transport-play', { hasText: 'Stop' });
    await stop.waitFor();
    const beganMs = Date.now();
    await stop.waitFor({ state: 'detached' });
    // 3 s of sound, and a busy machine.
    expect(Date.now() - beganMs).toBeGreaterThan(2000);
    expect(Date.now() - beganMs).toBeLessThan(8000);
  }, 30_000);

  it('is drawn over the lanes: a note that is clicked there is told with cents and ms', async () => {
    const field = (await page.locator('.lanes-row').first().locator('.lanes-field').boundingBox())!;
    await page.mouse.click(field.x + 0.62 * field.width, field.y + field.height / 2);
    await page
      .locator('.intonation-in-hand')
      .getByText(/^Descant recorder, .*: [+−]?\d+ cents? \(±/)
      .waitFor();
  });

  it('is mended where that is wished, at once in figures, then in sound, and back by one step of undo', async () => {
    await page.getByRole('radio', { name: 'Mend' }).check();
    await page.getByRole('combobox', { name: 'Take' }).selectOption({ label: 'Tenor recorder: 2 Tenor recorder' });
    await page.getByRole('slider', { name: 'Higher or lower' }).fill('6');
    await page.getByText(/cents? as it is mended/).waitFor();
    await page.getByText('Mended: its pitch was moved by +6 cents as a whole.').waitFor();
    await page.getByRole('radio', { name: 'before mending' }).check();
    await keepScreens(page, '14-mending');
    expect(await seriousFaults(page)).toEqual([]);
    await page.getByRole('button', { name: /^Undo/ }).click();
    await page.getByText('Mended: its pitch was moved by').waitFor({ state: 'detached' });
    await untilReady(page);
    await page.getByRole('radio', { name: 'All together' }).check();
  }, 60_000);

  it('is old once a take was moved, and says so', async () => {
    await goTo(page, 'Line up');
    const place = page.getByRole('textbox', { name: /begins/i }).first();
    await place.fill('1.5');
    await place.press('Enter');
    await goTo(page, 'Intonation');
    await page.getByText('This is how it was.').waitFor();
    expect(complaints).toEqual([]);
  }, 30_000);
});
