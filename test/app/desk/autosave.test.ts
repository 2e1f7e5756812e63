import { appendFileSync, cpSync, existsSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Autosave } from '../../../app/desk/autosave.ts';
import { doLine, moveLine } from '../../../app/desk/history-records.ts';
import { HistoryStore } from '../../../app/desk/history-store.ts';
import { beginSession, openSession } from '../../../app/desk/open-session.ts';
import { SessionStore } from '../../../app/desk/session-store.ts';
import type { Edit } from '../../../core/session/edit.ts';
import { doEdit, type History, redo, undo } from '../../../core/session/history.ts';
import { Random } from '../../../core/signal/random.ts';
import { cleanFolders, freshFolder } from './desk-kit.ts';

cleanFolders();

/** A history file on a disk that fails now and then: before, after, or in the middle of what it was asked. */
class FailingHistories extends HistoryStore {
  isFailing = true;
  readonly #random: Random;

  constructor(folder: string, random: Random) {
    super(folder);
    this.#random = random;
  }

  override async append(lines: readonly string[]): Promise<void> {
    if (this.#fails()) {
      // A full disk may take a part of it; the file is let go, as after any failure.
      if (existsSync(this.path) && this.#fails(0.5)) appendFileSync(this.path, lines.join('').slice(0, 10));
      await super.close();
      throw new Error('append failed');
    }
    await super.append(lines);
  }

  override async sync(): Promise<void> {
    if (this.#fails()) throw new Error('sync failed');
    await super.sync();
  }

  override async writeWhole(...given: Parameters<HistoryStore['writeWhole']>): Promise<void> {
    await super.writeWhole(...given);
    if (this.#fails()) throw new Error('failed after it was written');
  }

  #fails(share = 0.15): boolean {
    return this.isFailing && this.#random.uint32() / 2 ** 32 < share;
  }
}

class FailingSessions extends SessionStore {
  isFailing = true;
  readonly #random: Random;

  constructor(folder: string, random: Random) {
    super(folder);
    this.#random = random;
  }

  override async write(...given: Parameters<SessionStore['write']>): Promise<string | undefined> {
    const luck = this.#random.uint32() / 2 ** 32;
    if (this.isFailing && luck < 0.15) throw new Error('session.json failed');
    const other = await super.write(...given);
    if (this.isFailing && luck > 0.9) throw new Error('failed after it was written');
    return other;
  }
}

describe('saving on a disk that fails now and then', () => {
  it('never leaves files that do not lead to a state that was there, and has all when the disk is well, 40 seeds', async () => {
    for (let seed = 0; seed < 40; seed++) {
      const random = new Random(seed);
      const folder = freshFolder();
      const opened = await beginSession(folder, '0');
      const histories = new FailingHistories(folder, random);
      const sessions = new FailingSessions(folder, random);
      let history: History = opened.history;
      const kept = { ...opened.kept, histories, sessions };
      const autosave = new Autosave(kept, () => history);
      const titles = new Set(['0']);
      for (let n = 1; n <= 40; n++) {
        const what = random.uint32() % 8;
        const edit: Edit = { kind: 'setTitle', title: String(n) };
        const key = what < 3 ? 'title' : undefined;
        const next = what === 7 ? undo(history) : what === 6 ? redo(history) : doEdit(history, edit, key);
        if (next !== history) {
          history = next;
          autosave.note(what === 7 ? moveLine('undo') : what === 6 ? moveLine('redo') : doLine(edit, key, false));
        }
        titles.add(history.present.title);
        if (random.uint32() % 3 === 0) await autosave.flush().catch(() => undefined);
        if (random.uint32() % 6 === 0) {
          // What a kill would leave after whatever failed last: the files as they are, opened elsewhere.
          await autosave.flush().catch(() => undefined);
          const copy = join(freshFolder(), 'copy');
          cpSync(folder, copy, { recursive: true, filter: (path) => !path.endsWith('session.lock') });
          const after = await openSession(copy);
          expect(titles, `seed ${seed}, step ${n}`).toContain(after.history.present.title);
          expect(after.recovered ?? '', `seed ${seed}, step ${n}`).not.toMatch(/aside|damaged|missing/);
          await after.kept.lock?.release();
        }
      }
      histories.isFailing = false;
      sessions.isFailing = false;
      await autosave.flush();
      await autosave.close();
      const again = await openSession(folder);
      expect(again.recovered, `seed ${seed}`).toBeNull();
      expect(again.history, `seed ${seed}`).toEqual(history);
      await again.kept.lock?.release();
    }
  });
});
