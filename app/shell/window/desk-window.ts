import { join } from 'node:path';
import type { BrowserWindow, BrowserWindowConstructorOptions } from 'electron';
import type { DoorAnswer } from '../contract/bridge.ts';
import type { DeskEvent } from '../contract/events.ts';
import { doCall, faultViewOf, isRendering } from '../door-fault.ts';
import type { DeskDoorHost } from '../door-host.ts';
import { sessionAmong, sessionFolderOf } from '../opening.ts';
import { PageFiles } from '../page-files.ts';
import { EVENT_CHANNEL } from './channels.ts';
import { fenceContents, fenceSession } from './fence.ts';
import { Leaving } from './leaving.ts';
import { menuTemplate } from './menu.ts';
import { nativeCalls } from './native-calls.ts';
import { PAGE_ADDRESS, SCHEME, SCHEME_PRIVILEGES } from './own-address.ts';
import { pageResponder } from './page-responder.ts';
import { serveCalls } from './serve-calls.ts';
import { keepPlace, LEAST_HEIGHT, LEAST_WIDTH, mendedPlace, readPlace } from './window-place.ts';

/** What the window needs of Electron; a test gives a stand-in. */
export type WindowSystem = Pick<
  typeof import('electron'),
  'app' | 'BrowserWindow' | 'dialog' | 'ipcMain' | 'Menu' | 'protocol' | 'screen' | 'session' | 'shell'
>;

export interface WindowOptions {
  readonly makeHost: () => DeskDoorHost;
  /** The built page, such as out/renderer. */
  readonly pageFolder: string;
  /** The built preload, such as out/preload/preload.cjs. */
  readonly preloadFile: string;
  /** Where the window keeps what is its own. */
  readonly dataFolder: string;
  /** The program's own arguments, and the folder they are meant from. */
  readonly args: readonly string[];
  readonly workingFolder: string;
  readonly platform: string;
}

/** The desk in a window of its own; once a computer account. Settles when the window stands, or the program is to end. */
export async function runWindow(system: WindowSystem, options: WindowOptions): Promise<void> {
  const { app, protocol } = system;
  app.setName('Partsong');
  // Of our own, since the lock of the one instance lies there, and other programs of this runtime share its usual place.
  app.setPath('userData', options.dataFolder);
  protocol.registerSchemesAsPrivileged(SCHEME_PRIVILEGES);
  if (!app.requestSingleInstanceLock()) {
    app.quit();
    return;
  }
  app.enableSandbox();
  fenceContents(app);
  const desk = new DeskWindow(system, options);
  app.on('second-instance', (_event, args, workingFolder) => {
    desk.focus();
    const folder = sessionAmong(args, workingFolder);
    if (folder !== undefined) void desk.openSession(folder);
  });
  app.on('open-file', (event, path) => {
    event.preventDefault();
    const folder = sessionFolderOf(path, options.workingFolder);
    if (folder !== undefined) void desk.openSession(folder);
  });
  app.on('before-quit', (event) => {
    if (desk.mayGo) return;
    event.preventDefault();
    void desk.leave();
  });
  app.on('window-all-closed', () => app.quit());
  const asked = sessionAmong(options.args, options.workingFolder);
  if (asked !== undefined) void desk.openSession(asked);
  await app.whenReady();
  await desk.stand();
}

class DeskWindow {
  readonly #system: WindowSystem;
  readonly #options: WindowOptions;
  readonly #host: DeskDoorHost;
  readonly #leaving: Leaving;
  readonly #placeFile: string;
  #window: BrowserWindow | undefined;
  /** Faults there were to tell before a page could hear. */
  readonly #untold: DeskEvent[] = [];
  #hasBegun = false;

  constructor(system: WindowSystem, options: WindowOptions) {
    this.#system = system;
    this.#options = options;
    this.#host = options.makeHost();
    this.#placeFile = join(options.dataFolder, 'window.json');
    this.#leaving = new Leaving({
      dialog: system.dialog,
      window: () => this.#window,
      isRendering: () => isRendering(this.#host),
      close: () => this.#close(),
      end: () => system.app.quit(),
    });
    this.#host.onEvent((event) => this.#tell(event));
  }

  get mayGo(): boolean {
    return this.#leaving.isFree;
  }

  leave(): Promise<void> {
    return this.#leaving.ask();
  }

  focus(): void {
    if (this.#window?.isMinimized()) this.#window.restore();
    this.#window?.focus();
  }

  /** Opens a session that was asked for from outside the page; a fault is told in the page. */
  async openSession(folder: string): Promise<void> {
    try {
      const answer = await this.#host.call('openSession', { folder });
      if (!answer.ok) this.#tell({ kind: 'fault', fault: answer.fault });
    } catch (error) {
      this.#tell({ kind: 'fault', fault: faultViewOf(error) });
    }
  }

  /** Puts the window up. */
  async stand(): Promise<void> {
    const { dialog, shell, ipcMain, session, Menu, app } = this.#system;
    fenceSession(session.defaultSession);
    const page = new PageFiles(this.#options.pageFolder);
    session.defaultSession.protocol.handle(SCHEME, pageResponder(this.#host, page));
    const window = this.#makeWindow();
    this.#window = window;
    const native = nativeCalls({ dialog, shell, window: () => window, view: () => this.#host.view() });
    const begin = (input: unknown): Promise<DoorAnswer> => this.#begin(input);
    serveCalls(ipcMain, this.#host, { ...native, begin }, (id) => id === window.webContents.id);
    const send = (command: Extract<DeskEvent, { kind: 'menu' }>['command']): void =>
      this.#tell({ kind: 'menu', command });
    Menu.setApplicationMenu(Menu.buildFromTemplate(menuTemplate(this.#options.platform, !app.isPackaged, send)));
    try {
      await window.loadURL(PAGE_ADDRESS);
    } catch (error) {
      // Someone left before the page was there.
      if (!window.isDestroyed()) throw error;
    }
  }

  #makeWindow(): BrowserWindow {
    const { BrowserWindow: Window, screen } = this.#system;
    const primary = screen.getPrimaryDisplay();
    const others = screen.getAllDisplays().filter((display) => display.id !== primary.id);
    const areas = [primary, ...others].map((display) => display.workArea);
    const { isMaximized, ...bounds } = mendedPlace(readPlace(this.#placeFile), areas);
    const window = new Window({ ...WINDOW_OPTIONS, ...bounds, webPreferences: this.#preferences() });
    if (isMaximized) window.maximize();
    window.once('ready-to-show', () => window.show());
    window.on('close', (event) => {
      if (this.mayGo) return;
      event.preventDefault();
      void this.leave();
    });
    const { webContents } = window;
    // The session lives in this process; a page that broke down begins anew with all of it.
    webContents.on('render-process-gone', (_event, { reason }) => {
      if (reason !== 'clean-exit' && reason !== 'killed') window.reload();
    });
    return window;
  }

  #preferences(): NonNullable<BrowserWindowConstructorOptions['webPreferences']> {
    return {
      preload: this.#options.preloadFile,
      sandbox: true,
      contextIsolation: true,
      nodeIntegration: false,
      nodeIntegrationInWorker: false,
      nodeIntegrationInSubFrames: false,
      webSecurity: true,
      allowRunningInsecureContent: false,
      webviewTag: false,
      navigateOnDragDrop: false,
      spellcheck: false,
      // Sound goes on while another window is in front.
      backgroundThrottling: false,
    };
  }

  /** A page has begun and listens. */
  async #begin(input: unknown): Promise<DoorAnswer> {
    this.#hasBegun = true;
    const answer = await doCall(this.#host, 'begin', input);
    for (const event of this.#untold.splice(0)) this.#tell(event);
    return answer;
  }

  #tell(event: DeskEvent): void {
    if (event.kind === 'opened') this.#system.app.addRecentDocument(join(event.view.folder, 'session.json'));
    const window = this.#window;
    if (window !== undefined && !window.isDestroyed() && this.#hasBegun) window.webContents.send(EVENT_CHANNEL, event);
    // Of everything else the answer to begin holds what has become of it.
    else if (event.kind === 'fault') this.#untold.push(event);
  }

  async #close(): Promise<void> {
    const window = this.#window;
    if (window !== undefined && !window.isDestroyed()) {
      await keepPlace(this.#placeFile, { ...window.getNormalBounds(), isMaximized: window.isMaximized() });
    }
    await this.#host.close();
  }
}

const WINDOW_OPTIONS = {
  minWidth: LEAST_WIDTH,
  minHeight: LEAST_HEIGHT,
  title: 'Partsong',
  // Shown when the page has drawn itself, so that nothing flashes.
  show: false,
} as const;
