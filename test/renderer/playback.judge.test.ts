import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { extname, join } from 'node:path';
import type { BrowserContext, Page } from 'playwright-core';
import { build, createServer as createDevServer, type InlineConfig, type ViteDevServer } from 'vite';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sharedChromium } from '../chromium.ts';
import { snrDb } from '../processor-suite.ts';
import { standInMedia } from '../stand-in/stand-in-media.ts';
import type { UnderTest } from './playback/page/main.ts';
import { chainMix, inventedVoices, streamOf } from './playback/play.ts';

declare const underTest: UnderTest;

/** What the window and the loopback door allow at most. */
const POLICY = "default-src 'self'; script-src 'self'; worker-src 'self'; object-src 'none'; base-uri 'none'";
const TYPES: Readonly<Record<string, string>> = { '.html': 'text/html', '.js': 'text/javascript' };
const root = join(import.meta.dirname, 'playback/page');
const folder = mkdtempSync(join(tmpdir(), 'playback-page-'));
const settings: InlineConfig = { root, configFile: false, logLevel: 'warn', cacheDir: join(folder, 'cache') };

let context: BrowserContext;
let server: Server;
let page: Page;
const faults: string[] = [];

/** Serves the built page under the policy, and the invented session's media. */
function serve(): Server {
  return createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://page');
    response.setHeader('content-security-policy', POLICY);
    const media = url.pathname.startsWith('/media/') ? standInMedia(url) : undefined;
    if (media !== undefined) return void response.end(media);
    const name = url.pathname === '/' ? '/index.html' : url.pathname;
    try {
      const bytes = readFileSync(join(folder, 'built', name));
      response.setHeader('content-type', TYPES[extname(name)] ?? 'application/octet-stream');
      return void response.end(bytes);
    } catch {
      return void response.writeHead(404).end();
    }
  });
}

async function openPage(address: string): Promise<Page> {
  const opened = await context.newPage();
  opened.on('pageerror', (error) => faults.push(error.message));
  opened.on('console', (message) => {
    if (/Content Security Policy/.test(message.text())) faults.push(message.text());
  });
  await opened.goto(address);
  await opened.waitForFunction(() => 'underTest' in globalThis);
  return opened;
}

beforeAll(async () => {
  await build({ ...settings, build: { outDir: join(folder, 'built'), emptyOutDir: true, minify: false } });
  server = serve();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  context = await (await sharedChromium()).newContext();
  page = await openPage(`http://127.0.0.1:${(server.address() as AddressInfo).port}/?voices=4&length=30`);
});

afterAll(async () => {
  await context?.close();
  server?.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Left and right out of one row of numbers. */
function sides(row: readonly number[]): Float32Array[] {
  return [Float32Array.from(row.slice(0, row.length / 2)), Float32Array.from(row.slice(row.length / 2))];
}

describe('the sound thread in Chromium, built, under a strict policy', () => {
  it('gives offline what the rendered file’s own path gives in Node, to -100 dB; 8 voices, seed 11', async () => {
    const got = sides(await page.evaluate(() => underTest.offlineOfInvented(8, 11, 0)));
    const wanted = chainMix(streamOf(1, 8), inventedVoices(8, 96_000, 11));
    expect(got[0]!.length).toBe(96_000);
    expect(snrDb(wanted, got)).toBeGreaterThan(100);
  });

  it('gives the same from the middle on, to -100 dB, with the limiter at work', async () => {
    const got = sides(await page.evaluate(() => underTest.offlineOfInvented(8, 11, 80_000)));
    const wanted = chainMix(streamOf(1, 8), inventedVoices(8, 96_000, 11)).map((side) => side.slice(80_000));
    expect(snrDb(wanted, got)).toBeGreaterThan(100);
  });

  it('gives the open session’s mix offline over its media: silent before its span, sounding inside', async () => {
    const row = await page.evaluate(async () => {
      const [left, right] = await underTest.offlineMix(330_000, 480_000);
      const peakOf = (samples: Float32Array): number =>
        samples.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
      return [
        left.length,
        peakOf(left.subarray(0, 30_000)),
        peakOf(left.subarray(60_000)),
        peakOf(right.subarray(60_000)),
      ];
    });
    expect(row[0]).toBe(150_000);
    expect(row[1]).toBe(0);
    expect(row[2]).toBeGreaterThan(0.05);
    expect(row[3]).toBeGreaterThan(0.05);
  });

  it('plays, goes on evenly, stands at a pause, seeks, repeats, and ends', async () => {
    await page.evaluate(() => underTest.thePlayer().seek(400_000));
    await page.click('#play');
    await page.waitForFunction(() => underTest.thePlayer().positionFrame() > 404_800);
    const pace = await page.evaluate(async () => {
      const player = underTest.thePlayer();
      const levels: number[] = [];
      const stop = player.onLevels((one) => levels.push(one.momentaryLufs));
      const from = { at: player.positionFrame(), time: performance.now() };
      await new Promise((resolve) => setTimeout(resolve, 1000));
      const pace = (player.positionFrame() - from.at) / (48 * (performance.now() - from.time));
      stop();
      const heard = new Float32Array(2048);
      const isHeard = player.heard(heard) && heard.some((value) => value !== 0);
      return { pace, isHeard, levels: levels.length, lufs: levels.at(-1)! };
    });
    expect(pace.pace).toBeGreaterThan(0.93);
    expect(pace.pace).toBeLessThan(1.07);
    expect(pace.isHeard).toBe(true);
    expect(pace.levels).toBeGreaterThan(12);
    expect(pace.lufs).toBeGreaterThan(-40);
    const stood = await page.evaluate(async () => {
      const player = underTest.thePlayer();
      player.pause();
      await new Promise((resolve) => setTimeout(resolve, 150));
      const one = player.positionFrame();
      await new Promise((resolve) => setTimeout(resolve, 150));
      return [one, player.positionFrame()];
    });
    expect(stood[1]).toBe(stood[0]);
    const rounds = await page.evaluate(async () => {
      const player = underTest.thePlayer();
      player.setLoop({ fromFrame: 480_000, toFrame: 494_400 });
      player.seek(480_000);
      await player.play();
      const places: number[] = [];
      for (let n = 0; n < 30; n++) {
        await new Promise((resolve) => setTimeout(resolve, 40));
        places.push(player.positionFrame());
      }
      return places;
    });
    expect(Math.min(...rounds)).toBeGreaterThanOrEqual(480_000);
    expect(Math.max(...rounds)).toBeLessThan(494_400);
    expect(rounds.some((place, n) => n > 0 && place < rounds[n - 1]!)).toBe(true);
    await page.evaluate(() => {
      underTest.thePlayer().setLoop(null);
      underTest.thePlayer().seek(1_440_000 - 19_200);
    });
    await page.waitForFunction(() => !underTest.usePlayback.getState().playing);
    expect(await page.evaluate(() => underTest.thePlayer().positionFrame())).toBe(1_440_000);
  });

  it('lets a fader move and a switch of before and after be heard inside 50 ms of the page, without starving', async () => {
    const times = await page.evaluate(async () => {
      const player = underTest.thePlayer();
      player.seek(420_000);
      player.setAudition({ takeId: 'take-1', listen: 'after', onlyIt: true });
      await player.play();
      const window = new Float32Array(256);
      const sizeNow = (): number => {
        player.heard(window);
        return Math.max(...window.map(Math.abs));
      };
      const until = async (holds: (size: number) => boolean): Promise<number> => {
        const from = performance.now();
        while (!holds(sizeNow()) && performance.now() - from < 3000)
          await new Promise((resolve) => setTimeout(resolve, 1));
        return performance.now() - from;
      };
      await until((size) => size > 0.02);
      const sources = [];
      for (let n = 0; n < 5; n++) {
        await new Promise((resolve) => setTimeout(resolve, 120));
        player.setAudition({ takeId: 'take-1', listen: 'takenAway', onlyIt: true });
        // What was taken away from it is faint noise.
        sources.push(await until((size) => size < 0.05));
        await new Promise((resolve) => setTimeout(resolve, 120));
        player.setAudition({ takeId: 'take-1', listen: 'before', onlyIt: true });
        await until((size) => size > 0.02);
      }
      player.setAudition(null);
      player.setAlone(['voice-2']);
      await until((size) => size > 0.02);
      await new Promise((resolve) => setTimeout(resolve, 300));
      const fader: number[] = [];
      for (let n = 0; n < 5; n++) {
        underTest.edit({ kind: 'setMuted', voiceId: 'voice-2', muted: true });
        fader.push(await until((size) => size < 0.01));
        underTest.edit({ kind: 'setMuted', voiceId: 'voice-2', muted: false });
        await until((size) => size > 0.02);
        await new Promise((resolve) => setTimeout(resolve, 120));
      }
      const device = player.latencySec();
      player.pause();
      return { sources, fader, device, starved: underTest.usePlayback.getState().starved };
    });
    console.log('switch, mute (ms), device latency (s):', JSON.stringify(times));
    const median = (row: readonly number[]): number => [...row].sort((a, b) => a - b)[2]!;
    expect(median(times.sources)).toBeLessThan(50);
    expect(median(times.fader)).toBeLessThan(50);
    expect(times.starved).toBe(false);
  });

  it('goes over to new sound while it plays, a take auditioned and a voice gone, with no silence of 20 ms', async () => {
    const gaps = await page.evaluate(async () => {
      const player = underTest.thePlayer();
      player.setAlone([]);
      player.seek(400_000);
      await player.play();
      const window = new Float32Array(960);
      const longestSilence = async (forMs: number): Promise<number> => {
        let longest = 0;
        let from: number | undefined;
        for (const end = performance.now() + forMs; performance.now() < end; ) {
          await new Promise((resolve) => setTimeout(resolve, 4));
          player.heard(window);
          from = window.some((value) => value !== 0) ? undefined : (from ?? performance.now());
          if (from !== undefined) longest = Math.max(longest, performance.now() - from);
        }
        return longest;
      };
      // By then the sound is 3 s ahead, as it is but for the first moment.
      while (player.positionFrame() < 460_000) await new Promise((resolve) => setTimeout(resolve, 10));
      player.setAudition({ takeId: 'take-3', listen: 'before', onlyIt: false });
      const auditioned = await longestSilence(900);
      underTest.useDesk.setState(({ view }) => {
        if (view === null) return {};
        const facts = { ...view.takes['take-2']!, playable: false };
        return { view: { ...view, takes: { ...view.takes, 'take-2': facts } } };
      });
      const gone = await longestSilence(900);
      const place = player.positionFrame();
      player.pause();
      return { auditioned, gone, place };
    });
    // The window looked at is 20 ms long itself, and looked at every 4 ms.
    expect(gaps.auditioned).toBe(0);
    expect(gaps.gone).toBe(0);
    expect(gaps.place).toBeGreaterThan(460_000 + 1.6 * 48_000);
  });

  it('met no fault and broke no policy', () => {
    expect(faults).toEqual([]);
  });
});

describe('the sound thread from the development server', () => {
  let dev: ViteDevServer;

  beforeAll(async () => {
    dev = await createDevServer({ ...settings, server: { host: '127.0.0.1', port: 0 } });
    await dev.listen();
  });
  afterAll(() => dev?.close());

  it('loads and gives the same sound', async () => {
    const opened = await openPage(dev.resolvedUrls?.local[0] ?? '');
    const got = sides(await opened.evaluate(() => underTest.offlineOfInvented(2, 4, 0)));
    await opened.close();
    expect(snrDb(chainMix(streamOf(1, 2), inventedVoices(2, 96_000, 4)), got)).toBeGreaterThan(100);
  });
});
