import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Recents, userConfigFolder } from '../../../app/desk/recents.ts';
import { emptySession } from '../../../core/session/schema.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';

cleanFolders();

const session = emptySession('Evening canon');

describe('the sessions opened last', () => {
  it('are the 20 newest, newest first, each once, and those that are gone are marked', async () => {
    const config = join(freshFolder(), 'deep/partsong');
    const there = freshFolder();
    writeFileSync(join(there, 'session.json'), '{}');
    const recents = new Recents(config);
    expect(await recents.list()).toEqual([]);
    await Promise.all(Array.from({ length: 25 }, (_, n) => recents.remember({ folder: `/gone/${n}`, session })));
    await recents.remember({ folder: there, session });
    await recents.remember({ folder: '/gone/20', session });
    const list = await new Recents(config).list();
    expect(list).toHaveLength(20);
    expect(list.slice(0, 3).map(({ folder, isMissing }) => [folder, isMissing])).toEqual([
      ['/gone/20', true],
      [there, false],
      ['/gone/24', true],
    ]);
    await recents.forget('/gone/20');
    expect((await recents.list())[0]!.folder).toBe(there);
    expect(readdirSync(config)).toEqual(['recent-sessions.json']);
  });

  it('are what can be read of a damaged list, and nothing of one that cannot', async () => {
    const config = freshFolder();
    const path = join(config, 'recent-sessions.json');
    const recents = new Recents(config);
    await recents.remember({ folder: '/a', session });
    const good = JSON.parse(readFileSync(path, 'utf8')) as unknown[];
    writeFileSync(path, JSON.stringify([7, { folder: 3 }, ...good]));
    expect((await recents.list()).map(({ folder }) => folder)).toEqual(['/a']);
    writeFileSync(path, '[{"fold');
    expect(await recents.list()).toEqual([]);
    await recents.remember({ folder: '/b', session });
    expect((await recents.list()).map(({ folder }) => folder)).toEqual(['/b']);
  });

  it('are no fault where they cannot be written', async () => {
    const config = join(freshFolder(), 'config');
    writeFileSync(config, 'a file');
    const recents = new Recents(join(config, 'partsong'));
    await recents.remember({ folder: '/a', session });
    expect(await recents.list()).toEqual([]);
    mkdirSync(`${config}2/recent-sessions.json`, { recursive: true });
    expect(await new Recents(`${config}2`).list()).toEqual([]);
  });

  it('are kept where each system keeps the settings of a user', () => {
    expect(userConfigFolder({}, 'linux', '/home/ann')).toBe('/home/ann/.config/partsong');
    expect(userConfigFolder({ XDG_CONFIG_HOME: '/cfg' }, 'linux', '/home/ann')).toBe('/cfg/partsong');
    expect(userConfigFolder({ XDG_CONFIG_HOME: 'relative' }, 'linux', '/home/ann')).toBe('/home/ann/.config/partsong');
    expect(userConfigFolder({}, 'darwin', '/Users/ann')).toBe('/Users/ann/Library/Application Support/Partsong');
    expect(userConfigFolder({ APPDATA: 'roaming' }, 'win32', 'home')).toBe(join('roaming', 'Partsong'));
  });
});
