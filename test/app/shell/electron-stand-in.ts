import { EventEmitter } from 'node:events';
import type { WindowSystem } from '../../../app/shell/window/desk-window.ts';
import type { PreloadSystem } from '../../../app/shell/window/preload-door.ts';
import type { Sender } from '../../../app/shell/window/serve-calls.ts';

type Handler = (event: Sender, ...values: unknown[]) => Promise<unknown>;
type Decision = (...values: never[]) => unknown;

/** What a menu's item is, as far as tests look. */
export interface MenuItem {
  readonly label?: string;
  readonly role?: string;
  readonly accelerator?: string;
  readonly registerAccelerator?: boolean;
  readonly submenu?: readonly MenuItem[];
  click?(): void;
}

class StandInContents extends EventEmitter {
  readonly id: number;
  /** Listeners of the page's preload. */
  readonly page = new EventEmitter();
  openHandler: ((details: { url: string }) => { action: string }) | undefined;

  constructor(id: number) {
    super();
    this.id = id;
  }

  setWindowOpenHandler(handler: (details: { url: string }) => { action: string }): void {
    this.openHandler = handler;
  }

  send(channel: string, value: unknown): void {
    // Electron copies what it sends.
    this.page.emit(channel, {}, structuredClone(value));
  }
}

/** A window that is nowhere to be seen. */
export class StandInWindow extends EventEmitter {
  readonly options: Readonly<Record<string, unknown>>;
  readonly webContents: StandInContents;
  readonly done: string[] = [];
  address = '';
  bounds = { x: 10, y: 20, width: 1200, height: 800 };
  maximized = false;
  destroyed = false;

  constructor(options: Readonly<Record<string, unknown>>, id: number) {
    super();
    this.options = options;
    this.webContents = new StandInContents(id);
  }

  async loadURL(address: string): Promise<void> {
    this.address = address;
    this.emit('ready-to-show');
  }
  show(): void {
    this.done.push('show');
  }
  focus(): void {
    this.done.push('focus');
  }
  restore(): void {
    this.done.push('restore');
  }
  reload(): void {
    this.done.push('reload');
  }
  maximize(): void {
    this.maximized = true;
  }
  isMaximized(): boolean {
    return this.maximized;
  }
  isMinimized(): boolean {
    return true;
  }
  isDestroyed(): boolean {
    return this.destroyed;
  }
  getNormalBounds(): StandInWindow['bounds'] {
    return this.bounds;
  }
}

/** Electron's modules as far as the window uses them, with nothing behind them; tests look at what was asked of them. */
export class ElectronStandIn {
  readonly app = new EventEmitter();
  readonly handlers = new Map<string, Handler>();
  readonly windows: StandInWindow[] = [];
  readonly recents: string[] = [];
  readonly revealed: string[] = [];
  readonly asked: { message: string; buttons: string[] }[] = [];
  readonly dialogs: Readonly<Record<string, unknown>>[] = [];
  readonly did: string[] = [];
  readonly decisions = new Map<string, Decision>();
  readonly session = new EventEmitter();
  schemes: unknown;
  respond: ((request: Request) => Promise<Response>) | undefined;
  menu: readonly MenuItem[] = [];
  isFirst = true;
  /** What the next dialogs answer. */
  chosen: string[] = [];
  button = 0;
  areas = [{ x: 0, y: 0, width: 1920, height: 1040 }];

  get window(): StandInWindow {
    return this.windows.at(-1)!;
  }

  /** The modules; only what the window uses is there, so a use of anything else fails loudly. */
  get system(): WindowSystem {
    const standIn = this;
    const decide =
      (name: string) =>
      (decision: Decision): void => {
        standIn.decisions.set(name, decision);
      };
    const session = Object.assign(this.session, {
      protocol: {
        handle: (_scheme: string, respond: (request: Request) => Promise<Response>) => {
          standIn.respond = respond;
        },
      },
      setPermissionRequestHandler: decide('request'),
      setPermissionCheckHandler: decide('check'),
      setDevicePermissionHandler: decide('device'),
      webRequest: { onBeforeRequest: decide('fetch') },
    });
    const app = Object.assign(this.app, {
      isPackaged: true,
      requestSingleInstanceLock: () => standIn.isFirst,
      enableSandbox: () => standIn.did.push('sandbox'),
      whenReady: async () => undefined,
      setName: () => undefined,
      setPath: (name: string, path: string) => standIn.did.push(`${name} ${path}`),
      addRecentDocument: (path: string) => standIn.recents.push(path),
      quit: () => standIn.#quit(),
    });
    return {
      app,
      BrowserWindow: class {
        constructor(options: Readonly<Record<string, unknown>>) {
          const window = new StandInWindow(options, 100 + standIn.windows.length);
          standIn.windows.push(window);
          app.emit('web-contents-created', {}, window.webContents);
          // biome-ignore lint/correctness/noConstructorReturn: the window is the stand-in's own.
          return window as never;
        }
      },
      dialog: {
        showOpenDialog: async (_window: unknown, options: Readonly<Record<string, unknown>>) => {
          standIn.dialogs.push(options);
          return { canceled: standIn.chosen.length === 0, filePaths: standIn.chosen };
        },
        showMessageBox: async (_window: unknown, options: { message: string; buttons: string[] }) => {
          standIn.asked.push(options);
          return { response: standIn.button };
        },
      },
      ipcMain: {
        handle: (channel: string, handler: Handler) => standIn.handlers.set(channel, handler),
        removeHandler: (channel: string) => standIn.handlers.delete(channel),
      },
      Menu: {
        buildFromTemplate: (template: readonly MenuItem[]) => template,
        setApplicationMenu: (menu: readonly MenuItem[]) => {
          standIn.menu = menu;
        },
      },
      protocol: {
        registerSchemesAsPrivileged: (schemes: unknown) => {
          standIn.schemes = schemes;
        },
      },
      screen: {
        getPrimaryDisplay: () => ({ id: 0, workArea: standIn.areas[0] }),
        getAllDisplays: () => standIn.areas.map((workArea, id) => ({ id, workArea })),
      },
      session: { defaultSession: session },
      shell: { showItemInFolder: (path: string) => standIn.revealed.push(path) },
    } as unknown as WindowSystem;
  }

  /** What the preload of the newest window's page has of Electron. */
  get preload(): PreloadSystem {
    const { webContents } = this.window;
    return {
      ipcRenderer: {
        invoke: (channel, input) =>
          this.invoke(channel, input, {
            sender: { id: webContents.id },
            senderFrame: { url: 'partsong://desk/', parent: null },
          }),
        on: (channel, listener) => webContents.page.on(channel, listener),
      },
      webUtils: { getPathForFile: (file) => `/dropped/${file.name}` },
    };
  }

  /** A message to the program, of whoever says so. */
  async invoke(channel: string, input: unknown, sender: Sender): Promise<unknown> {
    const handler = this.handlers.get(channel);
    if (handler === undefined) throw new Error(`No handler registered for '${channel}'`);
    return structuredClone(await handler(sender, structuredClone(input)));
  }

  /** As Electron does: the program may say no before it quits. */
  #quit(): void {
    const event = preventable();
    this.app.emit('before-quit', event);
    this.did.push(event.prevented ? 'stayed' : 'quit');
  }
}

/** An event whose usual outcome can be prevented. */
export function preventable<More extends object>(more?: More): More & { prevented: boolean; preventDefault(): void } {
  const event = {
    ...(more as More),
    prevented: false,
    preventDefault() {
      event.prevented = true;
    },
  };
  return event;
}
