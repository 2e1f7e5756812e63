import { describe, expect, it } from 'vitest';
import { Desk } from '../../../app/desk/desk.ts';
import { readMixedSession } from '../../../app/picture/session-pictures.ts';
import { WorkPool } from '../../../app/work/pool.ts';
import { cleanFolders, freshFolder } from '../desk/desk-kit.ts';

cleanFolders();

describe('a session without a mix', () => {
  it('is to be mixed by a command, or on the screen where it is open, which would refuse the command', async () => {
    const folder = freshFolder();
    const nextStep = (): Promise<string> =>
      readMixedSession(folder).catch((fault: { code: string; nextStep: string }) => {
        expect(fault.code).toBe('file-missing');
        return fault.nextStep;
      }) as Promise<string>;
    const told: string[] = [];
    for (const by of ['the window', 'the browser', 'a command line']) {
      const options = { pool: new WorkPool(0), by };
      const desk = await (told.length === 0
        ? Desk.begin(folder, 'Evening canon', options)
        : Desk.open(folder, options));
      told.push(await nextStep());
      await desk.close();
    }
    told.push(await nextStep());
    expect(told[0]).toMatch(/^The session is open in the window: make the mix there in the step Render, /);
    expect(told[1]).toMatch(/^The session is open in the browser: /);
    expect(told.slice(2)).toEqual(Array(2).fill(told[3]));
    expect(told[3]).toMatch(/^Render the mix first with "partsong mix SESSION"/);
  });
});
