import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { seriousFaults } from '../axe.ts';
import { type StandInScreen, standInScreen } from '../stand-in/stand-in-screen.ts';

let screen: StandInScreen;

standInScreen((begun) => {
  screen = begun;
});

async function open(query: string, width = 1280, height = 800): Promise<Page> {
  const look = { viewport: { width, height }, reducedMotion: 'reduce' } as const;
  const page = await screen.open(`quiet&pictures&length=20&${query}`, look);
  await page.getByText('Running order').waitFor();
  await page.locator('nav.order .order-name').getByText('Picture', { exact: true }).click();
  await page.getByRole('heading', { name: 'What will be made' }).waitFor();
  return page;
}

const shown = (page: Page): Promise<number> =>
  page.evaluate(
    () => [...document.querySelectorAll<HTMLVideoElement>('.picture-video')].filter((one) => one.readyState > 1).length,
  );

describe('the bench of Picture', () => {
  it('shows clips, a drawn tile, and one whose copy is being made; keys and drops move tiles, undo brings them back', async () => {
    const page = await open('voices=5');
    await expect.poll(() => shown(page), { timeout: 15_000 }).toBe(3);
    expect(await page.locator('.picture-tile').count()).toBe(5);
    expect(await page.locator('.picture-drawn').count()).toBe(1);
    await page.getByText('a small copy is being made').waitFor();
    const tile = (voice: string) => page.locator(`.picture-tile[data-voice="${voice}"]`);
    const name = async (voice: string): Promise<string> => (await tile(voice).locator('.unseen').textContent())!;
    const before = [await name('voice-1'), await name('voice-2')];
    await tile('voice-1').focus();
    await page.keyboard.press('Shift+ArrowRight');
    await expect.poll(() => name('voice-1')).not.toBe(before[0]);
    await page.getByRole('button', { name: /^Undo/ }).first().click();
    await expect.poll(() => name('voice-1')).toBe(before[0]);
    await tile('voice-1').focus();
    await page.keyboard.press('Control+ArrowLeft');
    await expect.poll(() => name('voice-1')).not.toBe(before[0]);
    const [from, to] = [(await tile('voice-1').boundingBox())!, (await tile('voice-4').boundingBox())!];
    await page.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
    await page.mouse.down();
    await page.mouse.move(to.x + to.width / 2, to.y + to.height / 2, { steps: 5 });
    await page.mouse.up();
    await expect.poll(async () => (await tile('voice-1').boundingBox())!.x).toBeCloseTo(to.x, 0);
  });

  it('keeps the clips within 40 ms of the sound while it plays, and at the very picture when it stands', async () => {
    const page = await open('');
    await expect.poll(() => shown(page), { timeout: 15_000 }).toBe(3);
    await page.getByRole('button', { name: 'Play' }).first().click();
    await page.waitForTimeout(2500);
    const off = (): Promise<number[]> =>
      page.evaluate(async () => {
        const checks = (globalThis as unknown as { partsongChecks: { positionFrame(): number } }).partsongChecks;
        const worst: number[] = [];
        for (let n = 0; n < 60; n++) {
          await new Promise(requestAnimationFrame);
          for (const video of document.querySelectorAll<HTMLVideoElement>('.picture-video')) {
            const take = Number(/\d+/.exec(video.dataset['take']!)![0]) - 1;
            const sec = checks.positionFrame() / 48000 - ((take % 4) * 0.35 - 0.4);
            worst.push(Math.abs(video.currentTime - sec * (1 + 12e-6 * take)));
          }
        }
        return worst.sort((one, other) => one - other);
      });
    const playing = await off();
    // Now and then a busy computer shows a picture late; what is felt is where it lies mostly.
    expect(playing[Math.floor(playing.length * 0.95)]).toBeLessThan(0.04);
    await page.getByRole('button', { name: 'Stop' }).first().click();
    await page.waitForTimeout(1000);
    expect((await off()).at(-1)).toBeLessThan(0.005);
  });

  it('lets tiles be large in their solos, shows it at that time, and brings them back; matched clips are shown so', async () => {
    const page = await open('voices=5');
    await expect.poll(() => shown(page), { timeout: 15_000 }).toBe(3);
    const boxOf = async (voice: string) => (await page.locator(`.picture-tile[data-voice="${voice}"]`).boundingBox())!;
    const home = await boxOf('voice-2');
    await page.getByRole('button', { name: 'Every voice large in its solos' }).click();
    await page.locator('.picture-tile[data-voice="voice-2"]').focus();
    await page.getByRole('button', { name: /^Go to where it is large/ }).click();
    await expect.poll(async () => (await boxOf('voice-2')).width).toBeGreaterThan(1.4 * home.width);
    // Those that make room leave it alone.
    const [large, other] = [await boxOf('voice-2'), await boxOf('voice-1')];
    const apart =
      other.x + other.width <= large.x + 1 ||
      large.x + large.width <= other.x + 1 ||
      other.y + other.height <= large.y + 1 ||
      large.y + large.height <= other.y + 1;
    expect(apart).toBe(true);
    await page.getByRole('button', { name: /^Undo/ }).first().click();
    await expect.poll(async () => (await boxOf('voice-2')).width).toBeCloseTo(home.width, 0);
    await page.getByText('Light and colour of the clips alike').click();
    const first = page.locator('.picture-tile[data-voice="voice-1"] .picture-video');
    await expect
      .poll(() => first.evaluate((video) => (video as HTMLElement).style.filter))
      .toContain('picture-tone-voice-1');
  });

  it.each([
    ['day', 1280, 800, 'filmed'],
    ['night', 1024, 640, 'voices=24'],
  ] as const)(
    'has no serious fault that axe finds, and fits, by %s at %i x %i',
    async (theme, width, height, query) => {
      const page = await open(query, width, height);
      await page.getByLabel('Colours of the screen').selectOption(theme);
      await page.getByText('Names in the tiles').click();
      await page.waitForTimeout(500);
      if (query === 'voices=24')
        await page
          .getByText(/of 15 clips move here|small copy/)
          .first()
          .waitFor();
      expect(await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth)).toBeLessThanOrEqual(
        0,
      );
      expect(await seriousFaults(page)).toEqual([]);
    },
  );
});
