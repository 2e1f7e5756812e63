import { readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { writeMidi } from 'midi-file';
import type { Locator, Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { BY_COLOUR, seriousFaults } from '../axe.ts';
import { goTo, keepScreens } from './desk-in-browser.ts';
import { journeyOf, sample, truth } from './journey.ts';

const bars = 12;

let page: Page;
let complaints: string[];
let score: string;

const journey = journeyOf('guide', async (begun) => {
  ({ page, complaints } = begun);
  score = join(begun.home, 'morning-round.mid');
  writeScore();
});

/** Two voices in 3/4 at 90 quarters a minute. */
function writeScore(): void {
  const begin = [
    { deltaTime: 0, meta: true as const, type: 'setTempo' as const, microsecondsPerBeat: 666_667 },
    {
      deltaTime: 0,
      meta: true as const,
      type: 'timeSignature' as const,
      numerator: 3,
      denominator: 4,
      metronome: 24,
      thirtyseconds: 8,
    },
  ];
  const track = (name: string, key: number, first: typeof begin | []) => [
    ...first,
    { deltaTime: 0, meta: true as const, type: 'trackName' as const, text: name },
    ...Array.from({ length: 3 * bars }, (_, n) => [
      { deltaTime: 0, type: 'noteOn' as const, channel: 0, noteNumber: key + [0, 2, 4, 5, 4, 2][n % 6]!, velocity: 80 },
      {
        deltaTime: 480,
        type: 'noteOff' as const,
        channel: 0,
        noteNumber: key + [0, 2, 4, 5, 4, 2][n % 6]!,
        velocity: 0,
      },
    ]).flat(),
    { deltaTime: 0, meta: true as const, type: 'endOfTrack' as const },
  ];
  const tracks = [track('Soprano', 67, begin), track('Bass', 43, [])];
  writeFileSync(score, Uint8Array.from(writeMidi({ header: { format: 1, numTracks: 2, ticksPerBeat: 480 }, tracks })));
}

async function choose(button: Locator, file: string): Promise<void> {
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), button.click()]);
  await chooser.setFiles(file);
}

describe('before the first take', () => {
  it('makes a guide from a score: what was read, the line in time, and how it sounds, low at first', async () => {
    await page.getByLabel('Title of the new session').fill('Morning round');
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await goTo(page, 'Guide');
    await choose(page.getByRole('button', { name: 'Choose a score …' }), score);
    await page.getByText('morning-round.mid was read.').waitFor();
    expect(await page.getByRole('list', { name: 'Voices of the score' }).getByRole('listitem').count()).toBe(2);
    expect(await page.getByText('3/4; 90 quarters a minute.').count()).toBe(1);
    await page.getByRole('img', { name: /What you will hear, in time/ }).waitFor();
    await page.getByRole('button', { name: 'Listen to it first' }).click();
    const sound = page.locator('.guide-try audio');
    await sound.waitFor();
    await page.waitForFunction(
      () => (document.querySelector<HTMLAudioElement>('.guide-try audio')?.currentTime ?? 0) > 0.3,
    );
    expect(await sound.evaluate((audio: HTMLAudioElement) => audio.volume)).toBeCloseTo(0.1, 5);
    await sound.evaluate((audio: HTMLAudioElement) => audio.pause());
    await keepScreens(page, '9-guide');
  });

  it('takes what was made into the session: its plan, the voices of the score, bars over the lanes', async () => {
    await page.getByRole('button', { name: 'Make the guide', exact: true }).click();
    await page.getByRole('heading', { name: 'Your guide is made, and in use' }).waitFor({ timeout: 60_000 });
    await page.locator('.lanes-head').getByText('bar', { exact: true }).waitFor();
    await page.getByRole('treegrid', { name: new RegExp(`${bars} bars from 0:`) }).waitFor();
    await expect.poll(() => journey.savedSession().guide?.plan?.bars.length).toBe(bars);
    const session = journey.savedSession();
    const folder = journey.sessionFolder();
    expect(session.voices.map(({ name }) => name)).toEqual(['Soprano', 'Bass']);
    expect(readdirSync(join(folder, 'guide', '1'))).toContain('recording-plan.html');
    const [plan] = await Promise.all([
      page.context().waitForEvent('page'),
      page.getByRole('link', { name: /^Open to print/ }).click(),
    ]);
    await plan.getByRole('heading', { name: 'morning-round' }).waitFor();
    expect(await plan.evaluate(() => getComputedStyle(document.querySelector('.boxes li')!).listStyleType)).toBe(
      'none',
    );
    await plan.close();
    await keepScreens(page, '10-guide-made');
  });

  it('checks a trial clip and says what to change, without making it a take', async () => {
    await goTo(page, 'Sound check');
    await choose(page.getByRole('button', { name: 'Choose a trial clip …' }), join(sample, truth.takes[0]!.file));
    await page.locator('.trial-verdict').waitFor({ timeout: 60_000 });
    expect(await page.getByRole('img', { name: /Levels, in dBFS/ }).count()).toBe(1);
    const state = page.locator('nav.order button', { hasText: 'Sound check' }).locator('.order-state');
    await expect.poll(() => state.textContent()).toMatch(/look here|done/);
    expect(journey.savedSession().takes).toEqual([]);
    await keepScreens(page, '11-sound-check');
    await page.getByRole('button', { name: 'Add it as a take of' }).click();
    await page.getByText('It is a take of the session.').waitFor();
    await expect.poll(() => journey.savedSession().takes.length).toBe(1);
  });

  it('tells bar and beat where the playback stands', async () => {
    const { plan } = journey.savedSession().guide!;
    const secondBeat = plan!.bars[4]!.beatFrames[1]! / 48000;
    const presses = Math.floor(secondBeat / 5);
    await page.locator('h2').first().click();
    for (let n = 0; n < presses; n++) await page.keyboard.press('.');
    await expect.poll(() => page.locator('.play-clock-bar').textContent()).toMatch(/^bar \d+, beat [123]$/);
  });

  it('has no serious fault of access by day and by night (axe), and the page complains of nothing', async () => {
    const found: string[] = [];
    for (const theme of ['day', 'night'] as const) {
      await page.getByLabel('Colours of the screen').selectOption(theme);
      for (const step of ['Guide', 'Sound check'] as const) {
        await goTo(page, step);
        await page.waitForTimeout(400);
        found.push(
          ...(await seriousFaults(page, 'html', theme === 'day' ? undefined : BY_COLOUR)).map(
            (one) => `${step} by ${theme}: ${one}`,
          ),
        );
      }
    }
    expect(found).toEqual([]);
    expect(complaints).toEqual([]);
  });
});
