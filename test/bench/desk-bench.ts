import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, CDPSession, Page } from 'playwright-core';
import { makeBenchTake } from './bench-take.ts';

const CLIPS = 8;
const LENGTH_SEC = 240;
/** Goals: first lanes within 10 s for clips never seen, within 2 s for clips whose waveforms are kept; page below 500 MB. */
const FRESH_GOAL_SEC = 10;
const KEPT_GOAL_SEC = 2;
const PAGE_GOAL_MB = 500;
const SESSIONS = 10;

export interface DeskReading {
  /** From the clips' being given until the first, and until every waveform is fetched, s. */
  readonly freshFirstSec: number;
  readonly freshAllSec: number;
  /** The same when the session is opened again. */
  readonly keptFirstSec: number;
  readonly keptAllSec: number;
  /** From the clips' being given until the mix can be rendered, s. */
  readonly readySec: number;
  /** Memory of the page's process after each of ten times closing and opening, MB (its own share of resident memory). */
  readonly pageMb: readonly number[];
}

/** The real desk in Chromium: eight clips of 4 min (AAC) dropped, then the session closed and opened ten times. */
export async function benchDesk(print: (line: string) => void): Promise<DeskReading> {
  const { chromium } = await import('playwright-core');
  const folder = mkdtempSync(join(tmpdir(), 'partsong-desk-'));
  const clips = makeClips(folder);
  const { child, url } = await startDesk(folder);
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'],
  });
  try {
    // High enough for all lanes: only what is in view is fetched.
    const page = await browser.newPage({ viewport: { width: 1280, height: 2200 } });
    await page.goto(url);
    const waves = watchWaves(page);
    await page.getByText('Drop your clips here').waitFor();
    const chosen = page.waitForEvent('filechooser');
    await page
      .getByRole('button', { name: /Choose clips/ })
      .first()
      .click();
    const begun = performance.now();
    await (await chosen).setFiles(clips);
    const fresh = await waves.until(CLIPS, begun);
    await page.waitForFunction(
      () => (document.querySelector('nav.order')?.textContent ?? '').includes('The mix can be made'),
      undefined,
      { timeout: 300_000, polling: 200 },
    );
    const readySec = (performance.now() - begun) / 1000;
    print(
      `desk      ${CLIPS} clips of 4 min: first lane ${fresh.first.toFixed(1)} s, all ${fresh.all.toFixed(1)} s after the drop (goal ${FRESH_GOAL_SEC}${fresh.all < FRESH_GOAL_SEC ? '' : ', missed'}); ready to render ${readySec.toFixed(1)} s; load ${loadavg()[0]!.toFixed(1)}`,
    );
    const session = await browser.newBrowserCDPSession();
    const pageMb: number[] = [];
    let kept = { first: 0, all: 0 };
    for (let n = 0; n < SESSIONS; n++) {
      await page.getByRole('button', { name: 'Close session' }).click();
      await page.locator('.recents-open').first().waitFor();
      waves.forget();
      const reopened = performance.now();
      await page.locator('.recents-open').first().click();
      kept = await waves.until(CLIPS, reopened);
      pageMb.push(await pageMemoryMb(session, page, browser));
    }
    print(
      `desk      the same session opened again: first lane ${kept.first.toFixed(2)} s, all ${kept.all.toFixed(2)} s (goal ${KEPT_GOAL_SEC}${kept.all < KEPT_GOAL_SEC ? '' : ', missed'})`,
    );
    print(
      `desk      page after opening 1, 5 and ${SESSIONS} times: ${[0, 4, SESSIONS - 1].map((n) => pageMb[n]!.toFixed(0)).join(', ')} MB (goal below ${PAGE_GOAL_MB} and steady)`,
    );
    return {
      freshFirstSec: fresh.first,
      freshAllSec: fresh.all,
      keptFirstSec: kept.first,
      keptAllSec: kept.all,
      readySec,
      pageMb,
    };
  } finally {
    await browser.close();
    child.kill('SIGTERM');
    await new Promise((resolve) => child.once('exit', resolve));
    rmSync(folder, { recursive: true, force: true });
  }
}

function makeClips(folder: string): string[] {
  return Array.from({ length: CLIPS }, (_, n) => {
    const wave = join(folder, `made ${n}.wav`);
    const clip = join(folder, `voice ${n + 1}.m4a`);
    makeBenchTake({ path: wave, lengthSec: LENGTH_SEC, seed: 40 + n, pitchHz: 131 * 2 ** (n / 4), startSec: 3 });
    spawnSync('ffmpeg', ['-loglevel', 'error', '-y', '-i', wave, '-c:a', 'aac', '-b:a', '192k', clip]);
    rmSync(wave);
    return clip;
  });
}

async function startDesk(home: string): Promise<{ child: ChildProcess; url: string }> {
  mkdirSync(join(home, '.config'));
  const start = fileURLToPath(new URL('../app/shell/start.mjs', import.meta.url));
  const child = spawn(process.execPath, [start, '--browser', '--no-open'], {
    env: { ...process.env, HOME: home, XDG_CONFIG_HOME: join(home, '.config') },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const url = await new Promise<string>((resolve, reject) => {
    let said = '';
    child.stdout.on('data', (piece: Buffer) => {
      said += piece.toString();
      const found = /http:\/\/127\.0\.0\.1:\d+\/\S*/.exec(said)?.[0];
      if (found !== undefined) resolve(found);
    });
    child.once('exit', (code) => reject(new Error(`the desk ended with ${code}: ${said}`)));
  });
  return { child, url };
}

/** Watches which takes' waveforms the page has fetched. */
function watchWaves(page: Page) {
  let arrived = new Map<string, number>();
  page.on('requestfinished', (request) => {
    const take = /\/media\/wave\/([^/]+)\//.exec(request.url())?.[1];
    if (take !== undefined && !arrived.has(take)) arrived.set(take, performance.now());
  });
  return {
    forget(): void {
      arrived = new Map();
    },
    async until(count: number, since: number): Promise<{ first: number; all: number }> {
      while (arrived.size < count) {
        if (performance.now() - since > 300_000) throw new Error(`only ${arrived.size} of ${count} waveforms came`);
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
      const times = [...arrived.values()].sort((a, b) => a - b);
      return { first: (times[0]! - since) / 1000, all: (times[count - 1]! - since) / 1000 };
    },
  };
}

/** Proportional share of memory of the page's process after its garbage is collected, MB. */
async function pageMemoryMb(session: CDPSession, page: Page, browser: Browser): Promise<number> {
  const own = await page.context().newCDPSession(page);
  await own.send('HeapProfiler.collectGarbage');
  await own.detach();
  if (!browser.isConnected()) throw new Error('the browser has gone');
  const { processInfo } = await session.send('SystemInfo.getProcessInfo');
  const sizes = processInfo
    .filter((one) => one.type === 'renderer')
    .map((one) => Number(/^Pss:\s+(\d+)/m.exec(readFileSync(`/proc/${one.id}/smaps_rollup`, 'utf8'))?.[1] ?? 0) / 1024);
  return Math.max(...sizes);
}
