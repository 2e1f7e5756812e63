import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll } from 'vitest';
import { parseSession, type Session } from '../../core/session/schema.ts';
import type { SessionTruth } from '../../samples/truth.ts';
import { sharedChromium } from '../chromium.ts';
import { debianFfmpeg } from '../outside-judges.ts';
import { openPage, StartedDesk } from './desk-in-browser.ts';

/** The sample session's folder, and what is true of it. */
export const sample = fileURLToPath(new URL('../../samples/evening-canon/', import.meta.url));
export const truth = JSON.parse(readFileSync(join(sample, 'truth.json'), 'utf8')) as SessionTruth;

/** Coding clips, starting desk and browser and waiting for the first work, ms. */
const BEGIN_MS = 150_000;

/** One journey through the real desk, in a browser and with a home folder of its own. */
export class Journey {
  readonly home: string;
  page!: Page;
  /** What the page complained of. */
  complaints: string[] = [];
  #browser: Browser | undefined;
  #desk: StartedDesk | undefined;

  constructor(name: string) {
    this.home = mkdtempSync(join(tmpdir(), `partsong-${name}-journey-`));
  }

  async begin(): Promise<void> {
    [this.#browser, this.#desk] = await Promise.all([sharedChromium(), StartedDesk.start(this.home)]);
    await this.#open();
  }

  /** Ends the desk as a power cut would. */
  async cutPower(): Promise<void> {
    await this.#desk!.kill();
  }

  /** Starts the desk anew, with a new page. */
  async reopen(): Promise<void> {
    await this.page.context().close();
    this.#desk = await StartedDesk.start(this.home);
    await this.#open();
  }

  async end(): Promise<void> {
    await this.page?.context().close();
    await this.#desk?.stop();
    rmSync(this.home, { recursive: true, force: true });
  }

  /** The folder of its only session. */
  sessionFolder(): string {
    const folder = join(this.home, 'Partsong');
    return join(folder, readdirSync(folder)[0]!);
  }

  /** The session as it is saved. */
  savedSession(): Session {
    return parseSession(readFileSync(join(this.sessionFolder(), 'session.json'), 'utf8'), 'session.json');
  }

  async #open(): Promise<void> {
    ({ page: this.page, complaints: this.complaints } = await openPage(this.#browser!, this.#desk!.url));
  }
}

/** A journey for the tests of one file: begun before them and ended after them. prepare: what comes before the first test. */
export function journeyOf(name: string, prepare: (journey: Journey) => Promise<void>): Journey {
  const journey = new Journey(name);
  beforeAll(async () => {
    await journey.begin();
    await prepare(journey);
  }, BEGIN_MS);
  afterAll(() => journey.end());
  return journey;
}

/** Makes a clip with the system's FFmpeg; gives its path. */
export function madeClip(args: readonly string[], path: string): string {
  const { status, stderr } = spawnSync(debianFfmpeg, ['-v', 'error', ...args, path], { encoding: 'utf8' });
  if (status !== 0) throw new Error(stderr);
  return path;
}
