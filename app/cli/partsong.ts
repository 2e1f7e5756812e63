import { Command, CommanderError, InvalidArgumentError } from 'commander';
import { EXIT, exitCodeOf, exitCodeTable } from './exit-code.ts';
import { printFault } from './run-verb.ts';
import { addCheck } from './verbs/check.ts';
import { addClean } from './verbs/clean.ts';
import { addDemo } from './verbs/demo.ts';
import { addDoctor } from './verbs/doctor.ts';
import { addGuide } from './verbs/guide.ts';
import { addLineup } from './verbs/lineup.ts';
import { addLoudness } from './verbs/loudness.ts';
import { addMend } from './verbs/mend.ts';
import { addMix } from './verbs/mix.ts';
import { addPicture } from './verbs/picture.ts';
import { addTakes } from './verbs/takes.ts';
import { addTune } from './verbs/tune.ts';
import { addUndo } from './verbs/undo.ts';

const program = new Command('partsong')
  .description('One player, every part: from phone clips to a clean, lined-up, balanced mix.')
  .version('0.1.0')
  .showHelpAfterError('("partsong VERB --help" shows the options and examples)')
  .exitOverride();

for (const add of [
  addMix,
  addPicture,
  addGuide,
  addCheck,
  addClean,
  addTakes,
  addLineup,
  addTune,
  addMend,
  addUndo,
  addLoudness,
  addDoctor,
  addDemo,
])
  add(program);

for (const verb of program.commands) verb.addHelpText('after', '\nExit codes: see "partsong --help".');

program.addHelpText(
  'after',
  `
Exit codes:
${exitCodeTable()
  .map(({ code, what }) => `  ${String(code).padStart(3)}  ${what}`)
  .join('\n')}

Your clips are only read, never changed. Start listening at a low level: headphones can be far louder than they seem.`,
);

for (const stream of [process.stdout, process.stderr]) {
  stream.on('error', (error: NodeJS.ErrnoException) => {
    // Whoever read (such as `head`) has read enough; the work itself goes on.
    if (error.code !== 'EPIPE') throw error;
  });
}

try {
  await program.parseAsync();
} catch (error) {
  if (error instanceof CommanderError) {
    process.exitCode = error.exitCode === 0 ? EXIT.done : exitCodeOf('bad-option');
    if (error.exitCode !== 0 && process.argv.includes('--json')) {
      const message = error.message.replace(/^error: /, '');
      printFault({ code: 'bad-option', message, nextStep: '"partsong VERB --help" shows the options and examples.' });
    }
  } else if (error instanceof InvalidArgumentError) {
    process.stderr.write(`${error.message}\n`);
    process.exitCode = exitCodeOf('bad-option');
  } else throw error;
}
