import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { seriousFaults } from '../axe.ts';
import { dropFiles, goTo, keepScreens, untilReady } from './desk-in-browser.ts';
import { journeyOf, sample, truth } from './journey.ts';

let page: Page;
let complaints: string[];

const journey = journeyOf('picture', async (begun) => {
  ({ page, complaints } = begun);
  await page.getByText('Drop your clips here').waitFor();
  // A clip that no page here can play is among them: the second one, coded anew as HEVC.
  const [first, second, third, fourth] = truth.takes.map((take) => join(sample, take.file)) as [
    string,
    string,
    string,
    string,
  ];
  const hevc = join(begun.home, basename(second));
  const coder = ['-c:v', 'libx265', '-preset', 'ultrafast', '-tag:v', 'hvc1', '-x265-params', 'log-level=error'];
  execFileSync('ffmpeg', ['-v', 'error', '-i', second, ...coder, '-c:a', 'copy', hevc]);
  await dropFiles(page, [first, hevc, third, fourth]);
  await page.locator('nav.order').waitFor();
  await untilReady(page);
});

/** How far the pictures lie from where the sound is, s, by the placements the desk has; 60 looks. */
async function offsets(): Promise<{ off: number[]; sources: string[]; still: number }> {
  const session = JSON.parse(readFileSync(join(journey.sessionFolder(), 'session.json'), 'utf8')) as {
    takes: { id: string; placement: { offsetSec: number; driftPpm: number } }[];
  };
  const places = Object.fromEntries(session.takes.map(({ id, placement }) => [id, placement]));
  return page.evaluate(async (known) => {
    const checks = (globalThis as unknown as { partsongChecks: { positionFrame(): number } }).partsongChecks;
    const off: number[] = [];
    const sources = new Set<string>();
    let still = 0;
    for (let n = 0; n < 60; n++) {
      await new Promise(requestAnimationFrame);
      for (const video of document.querySelectorAll<HTMLVideoElement>('.picture-video')) {
        const { offsetSec, driftPpm } = known[video.dataset['take']!]!;
        const wanted = (checks.positionFrame() / 48000 - offsetSec) * (1 + driftPpm * 1e-6);
        off.push(Math.abs(video.currentTime - wanted));
        sources.add(`${video.dataset['source']} ${video.videoWidth > 0}`);
        if (video.paused) still++;
      }
    }
    return { off: off.sort((one, other) => one - other), sources: [...sources].sort(), still };
  }, places);
}

describe('the picture of the sample on the real desk', () => {
  it('has a tile a voice: two filmed, shown by small copies (one is HEVC), and two drawn', async () => {
    await goTo(page, 'Picture');
    await page.getByRole('heading', { name: 'What will be made' }).waitFor();
    await page.waitForFunction(
      () =>
        [...document.querySelectorAll<HTMLVideoElement>('.picture-video[data-source="proxy"]')].filter(
          (one) => one.videoWidth > 0,
        ).length === 2,
      undefined,
      { timeout: 60_000, polling: 250 },
    );
    expect(await page.locator('.picture-tile').count()).toBe(4);
    expect(await page.locator('.picture-drawn').count()).toBe(2);
    await keepScreens(page, '8-picture');
    expect(await seriousFaults(page)).toEqual([]);
  });

  it('plays in step: 19 of 20 looks within 40 ms of the sound, and within 5 ms when it stands', async () => {
    await page.getByRole('button', { name: 'Play' }).first().click();
    await page.waitForTimeout(4000);
    const playing = await offsets();
    expect(playing.sources).toEqual(['proxy true']);
    expect(playing.still).toBe(0);
    const [half, most] = [0.5, 0.95].map((share) => playing.off[Math.floor(share * playing.off.length)]!);
    console.log(`pictures lie ${(1000 * half!).toFixed(1)} ms off (median), ${(1000 * most!).toFixed(1)} ms (95 %)`);
    expect(most).toBeLessThan(0.04);
    await page.getByRole('button', { name: 'Stop' }).first().click();
    await page.waitForTimeout(1200);
    expect((await offsets()).off.at(-1)).toBeLessThan(0.005);
  });

  it('becomes a video of the chosen canvas that is measured, and nothing was complained of', async () => {
    await page.getByText('1:1', { exact: true }).click();
    await page.getByLabel('Size').selectOption('720');
    await page.getByLabel('Pictures a second').selectOption('24');
    await page.getByText('little', { exact: true }).click();
    await page.getByRole('button', { name: 'Render the video', exact: true }).click();
    await page.getByRole('heading', { name: 'Your video is ready' }).waitFor({ timeout: 120_000 });
    await keepScreens(page, '9-video');
    const videos = join(journey.sessionFolder(), 'videos');
    const made = readdirSync(videos).find((name) => name.endsWith('.mp4'))!;
    const probed = execFileSync(
      'ffprobe',
      [
        '-v',
        'error',
        '-show_entries',
        'stream=codec_name,width,height,pix_fmt,color_space',
        '-of',
        'csv',
        join(videos, made),
      ],
      { encoding: 'utf8' },
    );
    expect(probed).toContain('h264,720,720,yuv420p,bt709');
    expect(probed).toContain('aac');
    expect(complaints).toEqual([]);
  }, 150_000);

  it('is measured for light and colour, is large from a place on, and is gathered for another program', async () => {
    await page.getByText('Light and colour of the clips alike').click();
    await page.waitForFunction(() => document.querySelectorAll('.picture-tones filter').length === 2, undefined, {
      timeout: 30_000,
      polling: 250,
    });
    await page.getByRole('button', { name: 'Every voice large in its solos' }).click();
    await page.getByRole('button', { name: 'Large from here' }).click();
    await page
      .getByText(/^large from/)
      .first()
      .waitFor();
    await page.getByRole('button', { name: 'Gather', exact: true }).click();
    await page.getByText(/files and .*\.otio lie in/).waitFor({ timeout: 60_000 });
    const gathered = join(journey.sessionFolder(), 'gathered');
    const list = readdirSync(gathered).find((name) => name.endsWith('.otio'))!;
    const text = readFileSync(join(gathered, list), 'utf8');
    const urls = [...text.matchAll(/"target_url": "([^"]+)"/g)].map(([, url]) => decodeURIComponent(url!));
    expect(urls).toContain('sound/mix.wav');
    for (const url of urls) expect(statSync(join(gathered, url)).size, url).toBeGreaterThan(1000);
    await keepScreens(page, '10-gathered');
    expect(complaints).toEqual([]);
  });
});
