import type { Command } from 'commander';
import { runVerb } from '../run-verb.ts';

/** `partsong undo` and `partsong redo`: the last thing decided in a session taken back, or done again. */
export function addUndo(program: Command): void {
  for (const direction of ['undo', 'redo'] as const) {
    const does =
      direction === 'undo' ? 'take back the last thing decided in a session' : 'do again what was taken back';
    program
      .command(direction)
      .description(`${does}, on screen or by a command`)
      .argument('<session>', 'the folder of the session')
      .option('--json', 'print what was done as JSON')
      .addHelpText('after', `\nExample:\n  partsong ${direction} canon`)
      .action((session: string, options: { json?: boolean }) =>
        runVerb(options, async (context) => {
          const { moveSession } = await import('../../desk/session/move-session.ts');
          const moved = await moveSession(session, direction);
          const { done, next } = moved;
          const what = direction === 'undo' ? 'Taken back' : 'Done again';
          context.say(done === null ? `There is nothing to ${direction}.` : `${what}: ${done}.`);
          if (done !== null && next !== null) context.say(`The next to ${direction} is: ${next}.`);
          return moved;
        }),
      );
  }
}
