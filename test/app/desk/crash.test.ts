import { readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { bundled, startScript } from './child-script.ts';
import { beginDesk, cleanFolders, freshFolder, openDesk } from './desk-kit.ts';

cleanFolders();

describe('a process killed in the middle of edits', () => {
  it('loses at most the edits of its last second, never the session, 21 times in a row', async () => {
    const script = await bundled('burst.ts', freshFolder());
    const folder = freshFolder();
    const first = await beginDesk(folder);
    for (const title of ['-1', '0']) first.apply({ kind: 'setTitle', title });
    await first.close();
    let reached = 0;
    for (let kill = 0; kill < 21; kill++) {
      const { child, lines, ended } = startScript(script, [folder]);
      // Every third one while it starts and mends what the one before left; the others up to the second session.json.
      const isEarly = kill % 3 === 2;
      while (!isEarly && lines.length === 0) await new Promise((resolve) => setTimeout(resolve, 5));
      await new Promise((resolve) => setTimeout(resolve, isEarly ? 60 + kill * 10 : (kill * 89) % 700));
      child.kill('SIGKILL');
      const killedMs = performance.now();
      await ended;
      if (isEarly && kill % 2 === 0) continue;
      const sure = lines.filter(({ atMs }) => atMs < killedMs - 1000).at(-1);
      const desk = await openDesk(folder);
      const title = Number(desk.session.title);
      expect(title, `kill ${kill}`).toBeGreaterThanOrEqual(Math.max(reached, Number(sure?.text ?? 0)));
      // Edits go to the disk at once: what is lost is the last few milliseconds, some 3 edits each.
      expect(Number(lines.at(-1)?.text ?? title) - title, `edits lost at kill ${kill}`).toBeLessThan(100);
      desk.undo();
      expect(Number(desk.session.title)).toBeLessThan(title);
      desk.redo();
      expect(Number(desk.session.title)).toBe(title);
      await desk.close();
      expect(readdirSync(folder).filter((name) => name.startsWith('.'))).toEqual([]);
      reached = title;
    }
    expect(reached).toBeGreaterThan(500);
  });
});
