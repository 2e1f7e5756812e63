import { SessionLock } from '../../../app/desk/lock.ts';
import { PartsongError } from '../../../core/signal/fault.ts';

/** Tries for the lock of a folder at a given moment; says what came of it and holds on until it is killed. */
const [folder, atMs] = process.argv.slice(2);
while (Date.now() < Number(atMs));
try {
  await SessionLock.take(folder!, 'the script');
  process.stdout.write('got it\n');
  await new Promise((resolve) => setTimeout(resolve, 60_000));
} catch (fault) {
  process.stdout.write(`${fault instanceof PartsongError ? fault.code : String(fault)}\n`);
}
