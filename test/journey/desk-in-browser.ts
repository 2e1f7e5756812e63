import { type ChildProcess, spawn } from 'node:child_process';
import { mkdirSync, readFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';

const root = fileURLToPath(new URL('../..', import.meta.url));
/** Screenshots of every step are kept here where PARTSONG_SCREENS is set: nothing is checked of them, and they take half a minute. */
const artefacts = join(root, 'artefacts/journey');
const areScreensKept = process.env['PARTSONG_SCREENS'] !== undefined;

/** The desk as a user starts it (`npm start -- --browser`), with a home folder of its own. */
export class StartedDesk {
  readonly url: string;
  readonly #child: ChildProcess;
  readonly #ended: Promise<number | null>;

  private constructor(url: string, child: ChildProcess, ended: Promise<number | null>) {
    this.url = url;
    this.#child = child;
    this.#ended = ended;
  }

  static async start(home: string): Promise<StartedDesk> {
    const child = spawn(process.execPath, [join(root, 'app/shell/start.mjs'), '--browser', '--no-open'], {
      env: { ...process.env, HOME: home, XDG_CONFIG_HOME: join(home, '.config') },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    const ended = new Promise<number | null>((resolve) => child.once('exit', resolve));
    const url = await new Promise<string>((resolve, reject) => {
      let said = '';
      const hear = (piece: Buffer): void => {
        said += piece.toString();
        const found = /http:\/\/127\.0\.0\.1:\d+\/\S*/.exec(said)?.[0];
        if (found !== undefined) resolve(found);
      };
      child.stdout.on('data', hear);
      child.stderr.on('data', hear);
      void ended.then((code) => reject(new Error(`the desk ended with ${code} before it told its address: ${said}`)));
    });
    return new StartedDesk(url, child, ended);
  }

  /** As a power cut would: no chance to save or to tidy up. */
  async kill(): Promise<void> {
    this.#child.kill('SIGKILL');
    await this.#ended;
  }

  async stop(): Promise<void> {
    this.#child.kill('SIGTERM');
    await this.#ended;
  }
}

/** A page over the desk; whatever it complains of is gathered. */
export async function openPage(browser: Browser, url: string): Promise<{ page: Page; complaints: string[] }> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
  const page = await context.newPage();
  page.setDefaultTimeout(20_000);
  const complaints: string[] = [];
  page.on('pageerror', (error) => complaints.push(`error: ${error.message}`));
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(`console: ${message.text()}`);
  });
  await page.goto(url);
  return { page, complaints };
}

/** Keeps the screen at two sizes, for somebody to look at. */
export async function keepScreens(page: Page, name: string): Promise<void> {
  if (!areScreensKept) return;
  mkdirSync(artefacts, { recursive: true });
  for (const [width, height] of [
    [1280, 800],
    [1920, 1080],
  ] as const) {
    await page.setViewportSize({ width, height });
    await page.waitForTimeout(250);
    await page.screenshot({ path: join(artefacts, `${name}-${width}x${height}.png`) });
  }
  await page.setViewportSize({ width: 1280, height: 800 });
}

/** Goes to a step of the running order. */
export async function goTo(
  page: Page,
  step: 'Guide' | 'Sound check' | 'Takes' | 'Clean' | 'Line up' | 'Intonation' | 'Blend' | 'Picture' | 'Render',
): Promise<void> {
  // By the name alone: sentences of other steps hold such words too.
  await page.locator('nav.order .order-name').getByText(step, { exact: true }).click();
}

/** Waits until the desk has no work left and the mix can be made. */
export async function untilReady(page: Page, timeoutMs = 90_000): Promise<void> {
  await page.waitForFunction(
    () => {
      const order = document.querySelector('nav.order')?.textContent ?? '';
      return order.includes('The mix can be made') || /Render[^V]*done/.test(order);
    },
    undefined,
    { timeout: timeoutMs, polling: 250 },
  );
  await page.waitForFunction(
    () => !(document.querySelector('nav.order')?.textContent ?? '').includes('working'),
    undefined,
    {
      timeout: timeoutMs,
      polling: 250,
    },
  );
}

/** Drops files onto the middle of the page, as from a file manager. */
export async function dropFiles(page: Page, files: readonly string[]): Promise<void> {
  const given = files.map((file) => ({ name: basename(file), base64: readFileSync(file).toString('base64') }));
  await page.evaluate(async (list) => {
    const transfer = new DataTransfer();
    for (const { name, base64 } of list) {
      const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
      transfer.items.add(new File([bytes], name));
    }
    const target = document.elementFromPoint(innerWidth / 2, innerHeight / 2) ?? document.body;
    for (const type of ['dragenter', 'dragover', 'drop']) {
      target.dispatchEvent(new DragEvent(type, { dataTransfer: transfer, bubbles: true, cancelable: true }));
    }
  }, given);
}
