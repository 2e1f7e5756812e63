import { join } from 'node:path';
import { app, BrowserWindow, dialog, ipcMain, Menu, protocol, screen, session, shell } from 'electron';
import { DeskHost } from '../host/desk-host.ts';
import { hostPlaces } from '../places.ts';
import { keepTroubleIn, noteTrouble, watchForTrouble } from '../trouble.ts';
import { runWindow } from './desk-window.ts';

const places = hostPlaces();
keepTroubleIn(places.configFolder);
const host = new DeskHost({ door: 'window', ...places });
watchForTrouble(process, { tell: (fault) => host.tell(fault), end: () => app.quit() });
const built = join(import.meta.dirname, '..');

// Not awaited: Electron is ready only when this module has been read to its end.
runWindow(
  { app, BrowserWindow, dialog, ipcMain, Menu, protocol, screen, session, shell },
  {
    makeHost: () => host,
    pageFolder: join(built, 'renderer'),
    preloadFile: join(built, 'preload/preload.cjs'),
    dataFolder: join(places.configFolder, 'window'),
    args: process.argv.slice(app.isPackaged ? 1 : 2),
    workingFolder: process.cwd(),
    platform: process.platform,
  },
).catch((error: unknown) => {
  noteTrouble('the window could not stand', error);
  app.exit(1);
});
