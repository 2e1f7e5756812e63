import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll } from 'vitest';
import { runWindow } from '../../../app/shell/window/desk-window.ts';
import { smallPage } from './browser-page.ts';
import { ElectronStandIn } from './electron-stand-in.ts';
import { SmallHost } from './small-host.ts';

/** Windows of a test file, over a stand-in of Electron and hosts of their own. */
export class StandInWindows {
  readonly #pageFolder = smallPage();
  readonly #folders = [this.#pageFolder];

  constructor() {
    afterAll(() => {
      for (const folder of this.#folders) rmSync(folder, { recursive: true, force: true });
    });
  }

  freshFolder(): string {
    const folder = mkdtempSync(join(tmpdir(), 'partsong-window-'));
    this.#folders.push(folder);
    return folder;
  }

  /** A window that stands; `prepare` is given the stand-in before. */
  async begin(prepare: (electron: ElectronStandIn) => void = () => undefined, args: readonly string[] = []) {
    const dataFolder = this.freshFolder();
    const electron = new ElectronStandIn();
    prepare(electron);
    const host = new SmallHost();
    await runWindow(electron.system, {
      makeHost: () => host,
      pageFolder: this.#pageFolder,
      preloadFile: '/built/preload.cjs',
      dataFolder,
      args,
      workingFolder: dataFolder,
      platform: 'linux',
    });
    return { electron, host, dataFolder };
  }
}
