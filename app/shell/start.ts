import { spawn } from 'node:child_process';
import { join } from 'node:path';
import { CommanderError } from 'commander';
import { type BrowserDoor, startBrowserDoor } from './browser/browser-door.ts';
import { openAddress } from './browser/open-address.ts';
import { DeskHost } from './host/desk-host.ts';
import { sessionFolderOf } from './opening.ts';
import { hostPlaces } from './places.ts';
import { readStartOptions, type StartOptions } from './start-options.ts';
import { keepTroubleIn, watchForTrouble } from './trouble.ts';
import { findRuntime, getRuntime, type RuntimePlaces } from './window-runtime.ts';

const built = import.meta.dirname;
/** A window that ends so soon with a fault has never been seen, ms. */
const NEVER_SEEN_MS = 5000;
/** After an error nobody expected the desk has so long to save, ms. */
const END_WITHIN_MS = 10_000;
/** Signals so close together are one, ms. */
const SAME_SIGNAL_MS = 1000;

try {
  process.exitCode = await start(readStartOptions(process.argv.slice(2)));
} catch (error) {
  if (!(error instanceof CommanderError)) throw error;
  process.exitCode = error.exitCode === 0 ? 0 : 2;
}

/** Opens the desk in a window, or in a browser where there is none; the exit code when it has ended. */
async function start(options: StartOptions): Promise<number> {
  const session = options.session === null ? null : sessionFolderOf(options.session, process.cwd());
  if (session === undefined) {
    say(`${options.session} is no folder and no session.json. Give the folder of a session.`);
    return 2;
  }
  if (!options.browser) {
    const code = await startWindow(options, session);
    if (code !== undefined) return code;
  }
  return startBrowser(options, session);
}

/** The window's exit code; undefined when no window could be had, which has been said. */
async function startWindow(options: StartOptions, session: string | null): Promise<number | undefined> {
  const places: RuntimePlaces = {
    packageFolder: join(built, '../node_modules/electron'),
    failedFile: join(built, 'runtime-not-fetched'),
    env: process.env,
    platform: process.platform,
  };
  const runtime = options.fetch ? await getRuntime(places, say) : findRuntime(places);
  if ('why' in runtime) {
    say(`${runtime.why}: the desk opens in the browser instead.`);
    return undefined;
  }
  const began = Date.now();
  const { code, wasAsked } = await runWindowProgram(runtime.program, session);
  if (code === 0 || wasAsked || Date.now() - began > NEVER_SEEN_MS) return code;
  say('The window could not be opened: the desk opens in the browser instead.');
  return undefined;
}

/** Waits for the window to end. wasAsked: by Ctrl-C or by whoever started this. */
function runWindowProgram(program: string, session: string | null): Promise<{ code: number; wasAsked: boolean }> {
  // Set by some editors for their own use; with it the runtime would show nothing.
  const { ELECTRON_RUN_AS_NODE: _, ...env } = process.env;
  const args = [join(built, 'main/main.js'), ...(session === null ? [] : [session])];
  return new Promise((resolve) => {
    const window = spawn(program, args, { stdio: 'inherit', env });
    let wasAsked = false;
    const handOn = (signal: NodeJS.Signals): void => {
      wasAsked = true;
      window.kill(signal);
    };
    const settle = (code: number): void => {
      for (const signal of ['SIGINT', 'SIGTERM'] as const) process.off(signal, handOn);
      resolve({ code, wasAsked });
    };
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, handOn);
    window.on('error', () => settle(1));
    window.on('exit', (code) => settle(code ?? 1));
  });
}

async function startBrowser(options: StartOptions, session: string | null): Promise<number> {
  const places = hostPlaces();
  keepTroubleIn(places.configFolder);
  const host = new DeskHost({ door: 'browser', ...places });
  let door: BrowserDoor;
  try {
    door = await startBrowserDoor({ host, pageFolder: join(built, 'renderer'), port: options.port });
  } catch (error) {
    await host.close();
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    if (code !== 'EADDRINUSE' && code !== 'EACCES') throw error;
    say(`Port ${options.port} is taken or not allowed. Leave --port out, or give another.`);
    return 2;
  }
  endOnSignals(door);
  watchForTrouble(process, {
    tell: (fault) => host.tell(fault),
    end: () => {
      process.exitCode = 1;
      setTimeout(() => process.exit(1), END_WITHIN_MS).unref();
      void door.close('something went wrong that it did not expect');
    },
  });
  if (session !== null) {
    const answer = await host.call('openSession', { folder: session });
    if (!answer.ok) say(`${answer.fault.message} ${answer.fault.nextStep}`);
  }
  const isOpen = options.open && (await openAddress(door.url));
  say(
    isOpen
      ? 'Partsong is open in your browser. It ends with its last page; Ctrl-C ends it at once.'
      : `Open this address in a browser of this computer, once: ${door.url}`,
  );
  const why = await door.ended;
  await host.close();
  say(`Partsong has ended: ${why}. Your session is saved.`);
  return Number(process.exitCode ?? 0);
}

/**
 * The first signal ends the door, and with it the desk, which saves; one that comes later does not wait. Ctrl-C comes twice
 * at once where whoever started this hands it on.
 */
function endOnSignals(door: BrowserDoor): void {
  let firstAt: number | undefined;
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
    process.on(signal, () => {
      if (firstAt !== undefined && Date.now() - firstAt > SAME_SIGNAL_MS) process.exit(130);
      firstAt ??= Date.now();
      void door.close(`it was asked to (${signal})`);
    });
  }
}

function say(sentence: string): void {
  process.stdout.write(`${sentence}\n`);
}
