import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { measureLoudness } from '../../app/desk/measure-loudness.ts';
import { byteSourceOf } from '../../core/wave/byte-source.ts';
import { parseWaveHeader } from '../../core/wave/parse-header.ts';
import { decodeSamples } from '../../core/wave/samples.ts';
import { BY_COLOUR, seriousFaults } from '../axe.ts';
import { dropFiles, goTo, keepScreens, untilReady } from './desk-in-browser.ts';
import { journeyOf, sample, truth } from './journey.ts';

const clips = truth.takes.map((take) => join(sample, take.file));
const renders = (): string => join(journey.sessionFolder(), 'renders');

let page: Page;
let complaints: string[];

const journey = journeyOf('whole', async (begun) => {
  ({ page, complaints } = begun);
});

async function reopened(): Promise<void> {
  await journey.reopen();
  ({ page, complaints } = journey);
}

describe('the whole job, from dropped clips to a measured mix', () => {
  it('begins a session from four dropped clips and does the work up to Render by itself', async () => {
    await page.getByText('Drop your clips here').waitFor();
    await keepScreens(page, '0-start');
    await dropFiles(page, clips);
    const begun = Date.now();
    await page.locator('nav.order').waitFor();
    await untilReady(page);
    expect(Date.now() - begun).toBeLessThan(60_000);
    for (const take of truth.takes) {
      const name = basename(take.file)
        .replace(/^\d+[ _-]*/, '')
        .replace(/\.\w+$/, '');
      const shown = page.getByText(name.replace(/[_-]/g, ' ')).filter({ visible: true });
      await expect(shown.first().isVisible()).resolves.toBe(true);
    }
    await keepScreens(page, '1-takes');
  });

  it.each([
    ['Clean', '2-clean'],
    ['Line up', '3-line-up'],
    ['Blend', '4-blend'],
    ['Render', '5-render'],
  ] as const)('shows the bench of %s', async (step, picture) => {
    await goTo(page, step);
    await page.getByRole('region', { name: `Bench: ${step}` }).waitFor();
    await keepScreens(page, picture);
  });

  it('has no serious fault of access on any step, by day and by night (axe)', async () => {
    const found: string[] = [];
    for (const theme of ['day', 'night'] as const) {
      await page.getByLabel('Colours of the screen').selectOption(theme);
      for (const step of ['Takes', 'Clean', 'Line up', 'Blend', 'Render'] as const) {
        await goTo(page, step);
        await page.waitForTimeout(400);
        found.push(
          ...(await seriousFaults(page, 'html', theme === 'day' ? undefined : BY_COLOUR)).map(
            (one) => `${step} by ${theme}: ${one}`,
          ),
        );
        if (theme === 'night') await keepScreens(page, `6-night-${step.toLowerCase().replace(' ', '-')}`);
      }
    }
    await page.getByLabel('Colours of the screen').selectOption('day');
    expect(found).toEqual([]);
  });

  it('stops a render at once and leaves nothing of it', async () => {
    await goTo(page, 'Render');
    await page.getByRole('button', { name: 'Render', exact: true }).click();
    await page.getByRole('button', { name: /^Stop/ }).first().click();
    await page.getByRole('button', { name: 'Render', exact: true }).waitFor();
    expect(existsSync(renders()) ? readdirSync(renders()) : []).toEqual([]);
  });

  it('renders a mix that meets -14 LUFS within 0.1 LU and -1 dBTP, as FFmpeg measures it, too', async () => {
    await goTo(page, 'Render');
    await page.getByRole('button', { name: 'Render', exact: true }).click();
    await page.getByRole('heading', { name: 'Your mix is ready' }).waitFor({ timeout: 60_000 });
    await keepScreens(page, '7-rendered');
    const mix = join(renders(), 'mix.wav');
    const [ours] = (await measureLoudness([mix])).files;
    expect(Math.abs(ours!.integratedLufs! - -14)).toBeLessThan(0.1);
    expect(ours!.truePeakDbtp!).toBeLessThanOrEqual(-1);
    const said = execFileSync(
      'sh',
      ['-c', `ffmpeg -hide_banner -nostats -i "${mix}" -af ebur128=peak=true -f null - 2>&1 | tail -20`],
      { encoding: 'utf8' },
    );
    expect(Math.abs(Number(/I:\s+(-[\d.]+) LUFS/.exec(said)?.[1]) - -14)).toBeLessThanOrEqual(0.1);
    expect(Number(/Peak:\s+(-?[\d.]+) dBFS/.exec(said)?.[1])).toBeLessThanOrEqual(-1);
    const lengthSec = Math.max(...truth.takes.map((take) => take.offsetSec + take.lengthSec));
    expect(ours!.lengthSec).toBeGreaterThan(20);
    expect(ours!.lengthSec).toBeLessThan(lengthSec - Math.min(...truth.takes.map((take) => take.offsetSec)) + 0.1);
  });

  it('has played what it rendered: the sound thread equals the file to -100 dB', async () => {
    const fromFrame = 8 * 48000;
    const frames = 10 * 48000;
    const heard = await page.evaluate(
      async ([from, count]) => {
        const checks = (
          globalThis as unknown as { partsongChecks: { offlineMix(a: number, b: number): Promise<Float32Array[]> } }
        ).partsongChecks;
        const sides = await checks.offlineMix(from!, from! + count!);
        return sides.map((side) => {
          const bytes = new Uint8Array(side.buffer, side.byteOffset, side.byteLength);
          let text = '';
          for (let at = 0; at < bytes.length; at += 0x8000)
            text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
          return btoa(text);
        });
      },
      [fromFrame, frames],
    );
    const file = readFileSync(join(renders(), 'mix.wav'));
    const header = parseWaveHeader(byteSourceOf(file), 'mix.wav');
    const block = decodeSamples(
      file.subarray(header.dataOffsetBytes, header.dataOffsetBytes + header.dataBytes),
      header.format,
      header.channels,
    );
    for (const [channel, base64] of heard.entries()) {
      const bytes = Uint8Array.from(Buffer.from(base64, 'base64'));
      const samples = new Float32Array(bytes.buffer);
      let error = 0;
      let power = 0;
      for (let n = 0; n < frames; n++) {
        const wanted = block[channel]![fromFrame + n]!;
        error += (samples[n]! - wanted) ** 2;
        power += wanted ** 2;
      }
      expect(power).toBeGreaterThan(1);
      expect(10 * Math.log10(error / power)).toBeLessThan(-100);
    }
  });

  it('undoes after a crash and a restart what was done before', async () => {
    await goTo(page, 'Takes');
    const before = await page.getByLabel('Title of the session').inputValue();
    await page.getByLabel('Title of the session').fill('Morning round');
    await page.getByLabel('Title of the session').press('Enter');
    await page.waitForTimeout(1500);
    await journey.cutPower();
    await reopened();
    await page.locator('.recents-open').first().click();
    await page.locator('nav.order').waitFor();
    expect(await page.getByLabel('Title of the session').inputValue()).toBe('Morning round');
    await page.getByRole('button', { name: /^Undo/ }).click();
    await page.waitForFunction(
      (title) =>
        document.querySelector<HTMLInputElement>('[aria-label="Title of the session"], header input')?.value === title,
      before,
    );
  });

  it('tells a clip that is gone and finds it again under another name, by its content', async () => {
    const folder = join(journey.sessionFolder(), 'clips');
    const [first] = readdirSync(folder).sort();
    const elsewhere = mkdtempSync(join(tmpdir(), 'partsong-elsewhere-'));
    await page.getByRole('button', { name: 'Close session' }).click();
    await page.getByText('Drop your clips here').waitFor();
    renameSync(join(folder, first!), join(elsewhere, 'renamed.m4a'));
    await page.locator('.recents-open').first().click();
    await goTo(page, 'Takes');
    await page
      .getByText(/not where it was/)
      .first()
      .waitFor();
    await keepScreens(page, '8-missing');
    await page
      .getByRole('textbox', { name: /folder/i })
      .first()
      .fill(elsewhere);
    await page
      .getByRole('button', { name: /^Search/ })
      .first()
      .click();
    await page
      .getByText(/not where it was/)
      .first()
      .waitFor({ state: 'hidden' });
    expect(statSync(join(elsewhere, 'renamed.m4a')).size).toBeGreaterThan(1000);
    rmSync(elsewhere, { recursive: true, force: true });
  });

  it('has made the page complain of nothing', () => {
    expect(complaints).toEqual([]);
  });
});
