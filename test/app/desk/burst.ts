import { Desk } from '../../../app/desk/desk.ts';
import { WorkPool } from '../../../app/work/pool.ts';

/** Opens a session and edits it without end; says each edit's number when it was applied. */
const desk = await Desk.open(process.argv[2]!, { pool: new WorkPool(0), by: 'the burst' });
let count = Number(desk.session.title);
const edit = (): void => {
  for (let n = 0; n < 3; n++) {
    count++;
    if (count % 7 === 0) desk.undo();
    desk.apply({ kind: 'setTitle', title: String(count) }, count % 3 === 0 ? 'title' : undefined);
    process.stdout.write(`${count}\n`);
  }
  setTimeout(edit, 2);
};
edit();
