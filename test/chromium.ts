import { type Browser, chromium } from 'playwright-core';

let running: Promise<Browser> | undefined;

/**
 * Debian's Chromium without a screen, which asks nobody anything: one for all tests of a process, which ends with it. To start one
 * for each file and to compile its first page cost 2.5 s of processor time. A file opens contexts of its own in it, and closes them.
 */
export function sharedChromium(): Promise<Browser> {
  running ??= started();
  return running;
}

async function started(): Promise<Browser> {
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      '--autoplay-policy=no-user-gesture-required',
    ],
  });
  browser.once('disconnected', () => {
    running = undefined;
  });
  return browser;
}
