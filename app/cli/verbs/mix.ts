import type { Command } from 'commander';
import { Option } from 'commander';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { ClipsWish } from '../../desk/mix-clips.ts';
import type { Running } from '../../desk/session/session-work.ts';
import { type AssignmentOptions, addAssignment, assignmentOf } from '../assignment-options.ts';
import { numberWithin } from '../options.ts';
import { runVerb } from '../run-verb.ts';
import { summaryOf } from '../summary.ts';

interface MixOptions extends AssignmentOptions {
  out?: string;
  guide?: string;
  target?: number;
  ceiling?: number;
  character?: 'gentle' | 'even' | 'firm';
  /** Absent where neither --clean nor --no-clean is given. */
  clean?: boolean;
  lead?: string;
  bits: '16' | '24' | 'float';
  copy: 'm4a' | 'flac' | 'mp3' | 'none';
  json?: boolean;
}

/** What a new session is mixed to: common practice for music uploads. */
const USUAL_LUFS = -14;
const USUAL_DBTP = -1;

/** `partsong mix`: the whole main job, or the render of a session as it stands. */
export function addMix(program: Command): void {
  const command = program
    .command('mix')
    .description('clean, line up, balance and mix takes at upload loudness; or a session as it stands')
    .argument(
      '[session|clip...]',
      'the takes, one clip a voice, in the order of the score, top voice first; or the folder of a session, and clips to add to it',
    )
    .option(
      '--out <dir>',
      'folder for the mix, the stems, the session and the report (for a session: its own folder, unless you name one)',
    )
    .option('--guide <file>', 'what you heard in your headphones; it makes lining up much surer');
  addAssignment(command, 'clip')
    .option(
      '--target <LUFS>',
      `integrated loudness of the mix (${USUAL_LUFS}, which is common practice for music uploads, or what the session has)`,
      numberWithin('The target', -40, -5),
    )
    .option(
      '--ceiling <dBTP>',
      `highest true peak of the mix (${USUAL_DBTP}, which is common practice for music uploads, or what the session has)`,
      numberWithin('The ceiling', -12, 0),
    )
    .addOption(
      new Option(
        '--character <character>',
        'how hard to clean (even, or as the session has it; named, it is for all takes)',
      ).choices(['gentle', 'even', 'firm']),
    )
    .option('--clean', 'take the noise out of all takes (as it is for new ones)')
    .option('--no-clean', 'leave the noise in')
    .option('--lead <name>', 'the voice to bring forward, by (part of) its clip name')
    .addOption(
      new Option('--bits <bits>', 'how fine mix.wav is; 16 bit is dithered (TPDF)')
        .choices(['16', '24', 'float'])
        .default('24'),
    )
    .addOption(
      new Option('--copy <format>', 'also write a copy for upload, cut to the music')
        .choices(['m4a', 'flac', 'mp3', 'none'])
        .default('m4a'),
    )
    .option('--json', 'print the report as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong mix "1 descant.m4a" "2 tenor.mov" "3 bass.mov" --out canon
  partsong mix clips/*.mov --guide guide.wav --lead descant --out canon
  partsong mix clips/*.mov --by name --apart --guide guide.wav --out canon
  partsong mix clips/*.mov --out canon --target -16 --ceiling -1.5 --character gentle --json
  partsong mix canon                                  renders the session in canon/ as it stands
  partsong mix canon "2 tenor t2.mov" --target -16    adds a take of the tenor and renders

Where a voice has several takes (--by name, --by order, --voice, --apart) the best proposed is mixed, as "partsong takes" would; the
others are in the session too, to choose with "partsong takes SESSION --choose TAKE" or on screen.

A session keeps what was chosen in it, on screen or by takes, lineup and mend: nothing of that is decided anew. A clip that is added
is a take of the voice that its name tells, or of a new one; what sounds of a voice that has takes stays what it was. What you name of
--target, --ceiling, --lead, --character, --clean and --guide is changed in the session; each can be taken back ("partsong undo").

Makes in the folder: mix.wav (48 kHz, 24 bit where --bits does not say otherwise), a copy for upload, stems/ (each take cleaned and lined up, as long as the
mix, before its gain), session.json, report.json and report.html. Publish only music you have the rights to.`,
    )
    .action((paths: string[], options: MixOptions) =>
      runVerb(options, async (context) => {
        const { sessionAmong } = await import('../../desk/session/session-work.ts');
        const { session, clips } = await sessionAmong(paths);
        const running = { signal: context.signal, onStep: (step: string) => context.progress.begin(step) };
        const wish = { ...(await wishOf(clips, options)), ...running };
        const { report, folder } =
          session === undefined ? await mixNew(wish, options) : await mixOld(session, wish, options);
        context.progress.end();
        for (const line of summaryOf(report, folder)) context.say(line);
        return report;
      }),
    );
}

async function wishOf(clips: readonly string[], options: MixOptions): Promise<ClipsWish> {
  return {
    clips,
    ...(await assignmentOf(options)),
    guide: options.guide,
    lead: options.lead,
    wave: options.bits === '16' ? 'pcm16' : options.bits === '24' ? 'pcm24' : 'float32',
    copy: options.copy === 'none' ? undefined : options.copy,
  };
}

async function mixNew(wish: ClipsWish & Running, options: MixOptions) {
  if (options.out === undefined) {
    const message = 'Nobody knows where the mix is to go.';
    throw new PartsongError('bad-option', message, 'Name a folder with --out, or a session that is to be mixed.');
  }
  const { mixClips } = await import('../../desk/mix-clips.ts');
  return mixClips({
    ...wish,
    outFolder: options.out,
    targetLufs: options.target ?? USUAL_LUFS,
    ceilingDbtp: options.ceiling ?? USUAL_DBTP,
    character: options.clean === false ? undefined : (options.character ?? 'even'),
  });
}

async function mixOld(session: string, wish: ClipsWish & Running, options: MixOptions) {
  const { mixSession } = await import('../../desk/mix-session.ts');
  return mixSession({
    ...wish,
    session,
    outFolder: options.out,
    targetLufs: options.target,
    ceilingDbtp: options.ceiling,
    character: options.character,
    clean: options.clean,
  });
}
