import { spawn } from 'node:child_process';

/** The system's own way to open an address: command and arguments. */
export function openerOf(platform: string, address: string): readonly [command: string, ...args: string[]] {
  switch (platform) {
    case 'darwin':
      return ['open', address];
    case 'win32':
      return ['rundll32', 'url.dll,FileProtocolHandler', address];
    default:
      return ['xdg-open', address];
  }
}

/** An opener that has not failed after this long has found its browser; some stay as long as the browser, ms. */
const FAILS_WITHIN_MS = 3000;

/** Opens an address in the system's browser; whether that went well, as far as can be told. */
export function openAddress(address: string, platform: string = process.platform): Promise<boolean> {
  const [command, ...args] = openerOf(platform, address);
  return new Promise((resolve) => {
    const opener = spawn(command, args, { stdio: 'ignore', detached: true });
    const timer = setTimeout(() => resolve(true), FAILS_WITHIN_MS);
    const settle = (isOpen: boolean): void => {
      clearTimeout(timer);
      resolve(isOpen);
    };
    opener.on('error', () => settle(false));
    opener.on('exit', (code) => settle(code === 0));
    opener.unref();
  });
}
