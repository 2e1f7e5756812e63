import { Command, InvalidArgumentError } from 'commander';

/** How the desk is to be opened. */
export interface StartOptions {
  /** A session's folder, or the session.json in it; null for the start screen. */
  readonly session: string | null;
  /** In a browser even where a window can be had. */
  readonly browser: boolean;
  /** Open the browser; else the address is printed. */
  readonly open: boolean;
  /** 0: any that is free. */
  readonly port: number;
  /** Fetch the window's runtime when it is not there yet. */
  readonly fetch: boolean;
}

/** Reads the arguments of `npm start`. Throws CommanderError, after it has written help or what is wrong. */
export function readStartOptions(args: readonly string[]): StartOptions {
  const command = new Command('npm start --')
    .description('Opens the desk, in a window of its own or in a browser of this computer.')
    .argument('[session]', 'the folder of a session')
    .option('--browser', 'open it in the browser')
    .option('--no-open', 'print the address instead of opening the browser')
    .option('--port <number>', 'serve the browser at this port instead of any that is free', portOf, 0)
    .option('--no-fetch', "do not fetch the window's runtime (some 100 MB, once)")
    .exitOverride();
  command.parse([...args], { from: 'user' });
  const {
    browser = false,
    open,
    port,
    fetch,
  } = command.opts<{
    browser?: boolean;
    open: boolean;
    port: number;
    fetch: boolean;
  }>();
  return { session: command.args[0] ?? null, browser, open, port, fetch };
}

function portOf(text: string): number {
  const port = Number(text);
  if (!/^\d+$/.test(text) || port < 1024 || port > 65535) {
    throw new InvalidArgumentError('A port is a whole number from 1024 to 65535.');
  }
  return port;
}
