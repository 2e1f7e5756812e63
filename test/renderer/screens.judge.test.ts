import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { BY_COLOUR, seriousFaults } from '../axe.ts';
import { type Look, type StandInScreen, standInScreen } from '../stand-in/stand-in-screen.ts';

let screen: StandInScreen;

standInScreen((begun) => {
  screen = begun;
});

/** The screens that are judged: a query of the stand-in, the key of the step, and what is there when it stands. */
const screens = [
  { name: 'the start screen', query: 'empty', key: null, ready: 'text=Drop your clips here' },
  { name: 'an empty session', query: 'voices=0', key: null, ready: 'text=Drop your clips here' },
  {
    name: 'Takes, with a missing and a faulty clip',
    query: 'missing&faulty',
    key: '3',
    ready: 'text=The clip is not where it was',
  },
  { name: 'Guide, before it is made', query: '', key: '1', ready: 'h3:has-text("The piece")' },
  { name: 'Guide, made and in use', query: 'bars=24', key: '1', ready: 'h3:has-text("Your guide is made")' },
  { name: 'Sound check, without a trial', query: '', key: '2', ready: 'button:has-text("Choose a trial clip")' },
  { name: 'Sound check, after three trials', query: 'trials', key: '2', ready: 'text=All trials' },
  {
    name: 'Intonation, before it is asked for',
    query: 'quiet',
    key: '6',
    ready: 'text=Nothing of it changes the sound',
  },
  {
    name: 'Intonation, with a report that is old',
    query: 'pitch=stale&bars=24',
    key: '6',
    ready: 'text=Voice by voice',
  },
  { name: 'Render, with a finished mix', query: 'rendered', key: '9', ready: 'h3:has-text("Your mix is ready")' },
] as const;

async function open(query: string, ready: string, look: Look = {}): Promise<Page> {
  const page = await screen.open(query, look);
  await page.waitForSelector('h1, h2');
  if (ready !== '') await page.waitForSelector(ready);
  return page;
}

const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

describe.each(['day', 'night'] as const)('by %s', (theme) => {
  it.each(screens)('$name has no serious fault that axe finds', async ({ query, key, ready }) => {
    const page = await open(query, key === null ? ready : '', { colorScheme: theme === 'night' ? 'dark' : 'light' });
    if (key !== null) {
      await page.keyboard.press(key);
      await page.waitForSelector(ready);
    }
    expect(await page.evaluate(() => document.documentElement.dataset['theme'])).toBe(theme);
    expect(await seriousFaults(page, 'html', theme === 'day' ? TAGS : BY_COLOUR)).toEqual([]);
  });
});

describe('the frame', () => {
  it.each([
    { width: 640, height: 400 },
    { width: 512, height: 320 },
  ])(
    'cuts nothing off at 200 % zoom, which leaves $width x $height: the page is no wider than its window',
    async (viewport) => {
      for (const [query, key] of [
        ['empty', ''],
        ['rendered', ''],
        ['bars=24', '1'],
        ['trials', '2'],
        ['pitch&bars=24', '6'],
      ] as const) {
        const page = await open(query, '', { viewport });
        if (key !== '') await page.keyboard.press(key);
        const [width, inside] = await page.evaluate(() => [
          document.documentElement.scrollWidth,
          document.documentElement.clientWidth,
        ]);
        expect(width, query).toBeLessThanOrEqual(inside!);
      }
    },
  );

  it('keeps Stop in sight in a low window, below a running order that is longer than its column', async () => {
    const page = await open('', 'text=Running order', { viewport: { width: 1280, height: 560 } });
    const [inside, all] = await page
      .locator('.frame-side')
      .evaluate((side) => [side.clientHeight, side.scrollHeight] as const);
    expect(all).toBeGreaterThan(inside);
    const stop = page.getByLabel('Work in the background').getByRole('button', { name: /^Stop/ });
    const isSeen = await stop.evaluate((button) => {
      const { x, y, width, height } = button.getBoundingClientRect();
      return button.contains(document.elementFromPoint(x + 0.5 * width, y + 0.5 * height));
    });
    expect(isSeen).toBe(true);
  });

  it('explains a word on demand by keyboard, and puts it away with Escape', async () => {
    const page = await open('', 'text=Running order');
    const word = page.getByRole('button', { name: 'Peak', exact: true });
    await word.focus();
    await page.keyboard.press('Enter');
    await page.waitForSelector('text=The largest sample of the recording');
    expect(await word.getAttribute('aria-expanded')).toBe('true');
    await page.keyboard.press('Escape');
    await expect.poll(() => word.getAttribute('aria-expanded')).toBe('false');
    expect(await word.evaluate((element) => element === document.activeElement)).toBe(true);
  });

  it('deletes a take with undo at hand, and undoes it with Ctrl+Z too', async () => {
    const page = await open('', 'text=Running order');
    const take = page.getByRole('textbox', { name: 'Name of the take 01 Soprano recorder' });
    const remove = async (): Promise<void> => {
      await page.getByRole('button', { name: 'More for 01 Soprano recorder' }).click();
      await page.getByRole('button', { name: 'Delete the take' }).click();
      await expect.poll(() => take.count()).toBe(0);
    };
    await remove();
    await page.getByText('Deleted: 01 Soprano recorder').waitFor();
    await page.getByRole('button', { name: 'Undo', exact: true }).last().click();
    await expect.poll(() => take.count()).toBe(1);
    await remove();
    await page.keyboard.press('Control+z');
    await expect.poll(() => take.count()).toBe(1);
  });

  it('leaves the focus in the bench when what had it is deleted by keyboard', async () => {
    const page = await open('', 'text=Running order');
    await page
      .getByRole('button', { name: /^Delete voice/ })
      .first()
      .focus();
    await page.keyboard.press('Enter');
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? null))
      .toBe('Bench: Takes');
  });

  it('says what dropped files will become, on a voice and beside it', async () => {
    const page = await open('', 'text=Running order');
    const over = (selector: string): Promise<void> =>
      page
        .locator(selector)
        .first()
        .evaluate((element) => {
          const data = new DataTransfer();
          data.items.add(new File(['x'], 'alto.wav'));
          element.dispatchEvent(new DragEvent('dragover', { dataTransfer: data, bubbles: true, cancelable: true }));
        });
    await over('tbody[data-drop-voice="voice-2"]');
    await page.getByText('More takes of Alto recorder').waitFor();
    await over('header');
    await page.getByText('New voices: one for each clip').waitFor();
  });

  it('changes the order of voices by dragging and by buttons, and keeps the focus on the button', async () => {
    const page = await open('', 'text=Running order');
    const names = (): Promise<string[]> =>
      page.locator('.takes-voice-name').evaluateAll((inputs) => inputs.map((one) => (one as HTMLInputElement).value));
    await page.locator('.takes-grip').first().dragTo(page.locator('.takes-voice').nth(1));
    await expect.poll(names).toEqual(['Alto recorder', 'Soprano recorder', 'Tenor viol', 'Bass viol']);
    const down = page.getByRole('button', { name: 'Move Alto recorder down' });
    await down.press('Enter');
    await expect.poll(names).toEqual(['Soprano recorder', 'Alto recorder', 'Tenor viol', 'Bass viol']);
    expect(await down.evaluate((element) => element === document.activeElement)).toBe(true);
  });

  it('comes back to the start screen when a session is closed, and opens the sample from there', async () => {
    const page = await open('', 'text=Running order');
    await page.getByRole('button', { name: 'Close session' }).click();
    await page.getByRole('button', { name: 'Open the sample' }).click();
    await page.getByText('Running order').waitFor();
    expect(await page.title()).toBe('Evening canon – Partsong');
  });

  it('moves the divider with the arrow keys and remembers where it was', async () => {
    const page = await open('', 'text=Running order');
    const divider = page.getByRole('separator', { name: 'Height of the lanes' });
    const before = Number(await divider.getAttribute('aria-valuenow'));
    await divider.focus();
    await page.keyboard.press('ArrowUp');
    expect(Number(await divider.getAttribute('aria-valuenow'))).toBe(before - 4);
    await page.reload();
    await divider.waitFor();
    expect(Number(await divider.getAttribute('aria-valuenow'))).toBe(before - 4);
  });

  it('shows a render on its way with a way to stop it, then where it is', async () => {
    const page = await open('quiet', 'text=Running order');
    await page.keyboard.press('9');
    await page.getByRole('button', { name: 'Render', exact: true }).click();
    await page.getByRole('button', { name: 'Stop: Rendering the mix' }).first().waitFor();
    await page.getByRole('heading', { name: 'Your mix is ready' }).waitFor();
    await page.getByText('It has the loudness you asked for').last().waitFor();
  });
});
