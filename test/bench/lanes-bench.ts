import { mkdtempSync, rmSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { CDPSession, Page } from 'playwright-core';

/** Goal: 95 of 100 frames come within it, ms. At 60 frames a second a frame takes 16.7 ms. */
const GOAL_MS = 20;
const VOICES = 24;
const LENGTH_SEC = 600;
const FRAMES = 150;

interface Gesture {
  readonly name: string;
  /** Turns of the wheel, one a frame: how far across, down, and with which key. */
  readonly across: number;
  readonly down: number;
  readonly zooms: boolean;
  /** Notches of zoom, in, before it begins. */
  readonly zoomedIn: number;
}

const gestures: readonly Gesture[] = [
  { name: 'scroll in time, 60 s in view', across: 25, down: 0, zooms: false, zoomedIn: 4 },
  { name: 'scroll in time, 2 s in view', across: 25, down: 0, zooms: false, zoomedIn: 10 },
  { name: 'scroll through the voices', across: 0, down: 9, zooms: false, zoomedIn: 0 },
  { name: 'zoom in, whole to one sample', across: 0, down: -10.5, zooms: true, zoomedIn: 0 },
  { name: 'zoom out, one sample to whole', across: 0, down: 10.5, zooms: true, zoomedIn: 25 },
];

/** What was measured of one gesture, ms: between frames, and of our own code in a frame. */
export interface LanesReading {
  readonly name: string;
  readonly p50Ms: number;
  readonly p95Ms: number;
  readonly codeP50Ms: number;
  readonly codeP95Ms: number;
  /** Processor time of the page's main thread a frame, the browser's own work in it: does not grow when others want the processor. */
  readonly threadMs: number;
}

/**
 * Frame times of the lanes in Chromium without a graphics card: 24 voices of 10 min, cleaned and with a guide, scrolled
 * and zoomed a notch a frame. Prints a line a gesture and the page's memory.
 */
export async function benchLanes(print: (line: string) => void): Promise<LanesReading[]> {
  const { build, preview } = await import('vite');
  const { chromium } = await import('playwright-core');
  const configFile = fileURLToPath(new URL('../test/stand-in/vite.config.ts', import.meta.url));
  const outDir = mkdtempSync(join(tmpdir(), 'partsong-lanes-'));
  await build({ configFile, logLevel: 'error', build: { outDir, emptyOutDir: true } });
  const server = await preview({
    configFile,
    logLevel: 'error',
    build: { outDir },
    preview: { host: '127.0.0.1', port: 0 },
  });
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'],
  });
  const all: LanesReading[] = [];
  try {
    const url = `${server.resolvedUrls?.local[0] ?? ''}?voices=${VOICES}&length=${LENGTH_SEC}&guide`;
    for (const [width, height] of [
      [1280, 800],
      [1920, 1080],
    ] as const) {
      const page = await browser.newPage({ viewport: { width, height } });
      await page.goto(url);
      await page.waitForSelector('.lanes-row');
      const session = await page.context().newCDPSession(page);
      await session.send('Performance.enable');
      await page.getByRole('separator').first().press('End');
      await settle(page);
      for (const gesture of gestures) {
        const reading = await measure(page, session, gesture);
        all.push(reading);
        const missed = reading.p95Ms < GOAL_MS ? '' : `, missed`;
        print(
          `lanes     ${width} x ${height}: ${reading.name.padEnd(30)} frames p50 ${reading.p50Ms.toFixed(1)} ms, ` +
            `p95 ${reading.p95Ms.toFixed(1)} ms (goal below ${GOAL_MS}${missed}); our code p50 ${reading.codeP50Ms.toFixed(1)} ms, ` +
            `p95 ${reading.codeP95Ms.toFixed(1)} ms; main thread ${reading.threadMs.toFixed(1)} ms of processor a frame`,
        );
      }
      await session.send('HeapProfiler.collectGarbage');
      const { usedSize, backingStorageSize } = (await session.send('Runtime.getHeapUsage')) as {
        usedSize: number;
        backingStorageSize?: number;
      };
      const mib = (bytes: number): string => (bytes / 2 ** 20).toFixed(0);
      print(
        `lanes     ${width} x ${height}: JS heap ${mib(usedSize)} MiB, waveforms and pixels ${mib(backingStorageSize ?? 0)} MiB; ` +
          `load ${loadavg()[0]!.toFixed(1)}`,
      );
      await page.close();
    }
  } finally {
    await browser.close();
    await server.close();
    rmSync(outDir, { recursive: true, force: true });
  }
  return all;
}

/** Waits until nothing has been fetched for a while. */
async function settle(page: Page): Promise<void> {
  await page.waitForLoadState('networkidle');
  await page.waitForTimeout(600);
}

async function measure(page: Page, session: CDPSession, gesture: Gesture): Promise<LanesReading> {
  await page.getByRole('button', { name: 'whole piece' }).click();
  await page.evaluate((notches) => {
    const body = document.querySelector('.lanes-body')!;
    const box = body.getBoundingClientRect();
    document.querySelector('.lanes-scroll')!.scrollTop = 0;
    const at = { clientX: box.left + box.width / 2, clientY: box.top + 200, bubbles: true, cancelable: true };
    for (let n = 0; n < notches; n++)
      body.dispatchEvent(new WheelEvent('wheel', { ...at, deltaY: -100, ctrlKey: true }));
  }, gesture.zoomedIn);
  // One pass beforehand brings the waveforms, so that frames are measured and not the invented desk.
  await run(page, gesture);
  await settle(page);
  if (!gesture.zooms) await run(page, { ...gesture, across: -gesture.across, down: -gesture.down });
  else await run(page, { ...gesture, down: -gesture.down });
  await settle(page);
  const begunMs = await threadMs(session);
  const { betweenMs, codeMs } = await run(page, gesture);
  const spentMs = (await threadMs(session)) - begunMs;
  return {
    name: gesture.name,
    p50Ms: percentile(betweenMs, 0.5),
    p95Ms: percentile(betweenMs, 0.95),
    codeP50Ms: percentile(codeMs, 0.5),
    codeP95Ms: percentile(codeMs, 0.95),
    threadMs: spentMs / betweenMs.length,
  };
}

/** Processor time the page's main thread has used so far, ms. */
async function threadMs(session: CDPSession): Promise<number> {
  const { metrics } = await session.send('Performance.getMetrics');
  return 1000 * (metrics.find((one) => one.name === 'ThreadTime')?.value ?? Number.NaN);
}

/** One turn of the wheel a frame; the time between frames, and of everything our code does in each. */
function run(page: Page, gesture: Gesture): Promise<{ betweenMs: number[]; codeMs: number[] }> {
  return page.evaluate(
    ({ across, down, zooms, frames }) =>
      new Promise<{ betweenMs: number[]; codeMs: number[] }>((resolve) => {
        const body = document.querySelector('.lanes-body')!;
        const box = body.getBoundingClientRect();
        const at = { clientX: box.left + box.width / 2, clientY: box.top + 200, bubbles: true, cancelable: true };
        const betweenMs: number[] = [];
        const codeMs: number[] = [];
        let spent = 0;
        const plain = window.requestAnimationFrame;
        window.requestAnimationFrame = (callback) =>
          plain.call(window, (time) => {
            const begin = performance.now();
            callback(time);
            spent += performance.now() - begin;
          });
        let last = 0;
        const step = (time: number): void => {
          if (last > 0) {
            betweenMs.push(time - last);
            codeMs.push(spent);
          }
          last = time;
          spent = 0;
          if (betweenMs.length >= frames) {
            window.requestAnimationFrame = plain;
            resolve({ betweenMs, codeMs });
            return;
          }
          const begin = performance.now();
          body.dispatchEvent(new WheelEvent('wheel', { ...at, deltaX: across, deltaY: down, ctrlKey: zooms }));
          spent += performance.now() - begin;
          plain.call(window, step);
        };
        plain.call(window, step);
      }),
    { ...gesture, frames: FRAMES },
  );
}

function percentile(values: readonly number[], share: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? Number.NaN;
}
