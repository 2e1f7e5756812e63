import { type Command, InvalidArgumentError } from 'commander';
import type { Nudge } from '../../../core/pitch/mend.ts';
import { FARTHEST_MOVE_CENTS, FARTHEST_NUDGE_MS } from '../../../core/pitch/mend.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import type { MendClipReport, PitchStand } from '../../desk/mend-clip.ts';
import type { MendedInSession, MendOfSession } from '../../desk/session/mend-session.ts';
import { collected, numberWithin, parseSpan, refuseWithoutSession } from '../options.ts';
import { runVerb, type VerbContext } from '../run-verb.ts';

interface MendOptions {
  out?: string;
  take: string[];
  none?: boolean;
  cents?: number | 'auto';
  nudge: Nudge[];
  againstSink?: boolean;
  score?: string;
  referenceHz?: number;
  json?: boolean;
}

/** `partsong mend`: one take, gently moved in pitch or time, by choice. */
export function addMend(program: Command): void {
  program
    .command('mend')
    .description(
      'mend one take, gently and only as you say: its pitch by some cents, a pitch that sinks, stretches in time',
    )
    .argument('<session|clip>', 'the take; or the folder of a session, whose takes are named with --take')
    .option('--out <file>', "the mended take, a float WAV on the take's own time line and of its length")
    .option('--take <name>', 'in a session: the take that is to be mended; may be given again', collected, [])
    .option('--none', 'in a session: mend nothing in it any more')
    .option(
      '--cents <n|auto>',
      'move the whole take, up to 50 cents; auto brings the middle of its notes to --reference-hz',
      centsOf,
    )
    .option('--against-sink', 'lead the pitch along a slow curve, so that it ends as it began')
    .option(
      '--nudge <from-to:ms>',
      "let a stretch sound later (or earlier, below 0) by up to 60 ms; the take's own time; may be given again",
      (text: string, before: Nudge[]) => [...before, nudgeOf(text)],
      [],
    )
    .option('--score <file>', 'the piece as MIDI or MusicXML (absent: notes are held against the nearest keys)')
    .option(
      '--reference-hz <hz>',
      "A4 to hold notes against (absent: the take's own)",
      numberWithin('The reference', 380, 500),
    )
    .option('--json', 'print what was measured and done as JSON')
    .addHelpText(
      'after',
      `
Examples:
  partsong mend alto.m4a --reference-hz 440                     says what could be mended; writes nothing
  partsong mend alto.m4a --cents 12 --out alto-mended.wav
  partsong mend alto.m4a --against-sink --cents auto --reference-hz 440 --out alto-mended.wav
  partsong mend horn.mov --nudge 0:41.2-0:44:-25 --nudge 61-63.5:15 --out horn-mended.wav
  partsong mend canon                                           says what could be mended in the session in canon/
  partsong mend canon --take alto --cents auto --against-sink   mends it there; "partsong mix canon" then renders it so
  partsong mend canon --take alto --none                        leaves it as it was played

In a session what you do not name stays as it is mended already, and everything can be taken back ("partsong undo").

For one voice at a time. Between nudged stretches the sound is stretched by 4 % at most (8 % where they lie close); splices lie
where waves are alike and spare the attacks. The clip itself is only read.`,
    )
    .action((path: string, options: MendOptions) =>
      runVerb(options, async (context) => {
        const { isSessionPath } = await import('../../desk/session/session-work.ts');
        return (await isSessionPath(path)) ? ofSession(path, options, context) : ofClip(path, options, context);
      }),
    );
}

function wishOf(options: MendOptions, { signal, progress }: VerbContext) {
  return {
    cents: options.cents,
    nudges: [...options.nudge].sort((one, other) => one.fromSec - other.fromSec),
    againstSink: options.againstSink ?? false,
    score: options.score,
    referenceHz: options.referenceHz,
    signal,
    onStep: (step: string) => progress.begin(step),
  };
}

async function ofClip(clip: string, options: MendOptions, context: VerbContext): Promise<MendClipReport> {
  const { take, none } = options;
  refuseWithoutSession({ take, none }, 'partsong mend canon --take alto --cents 12');
  const { mendClip } = await import('../../desk/mend-clip.ts');
  const report = await mendClip({ ...wishOf(options, context), clip, out: options.out });
  context.progress.end();
  for (const line of linesOf(report, options.referenceHz)) context.say(line);
  return report;
}

async function ofSession(session: string, options: MendOptions, context: VerbContext): Promise<MendOfSession> {
  if (options.out !== undefined) {
    const next = 'Leave --out away, and render it with "partsong mix SESSION"; or name the clip itself.';
    throw new PartsongError('bad-option', 'A take that is mended in a session is not written by itself.', next);
  }
  const { mendSession } = await import('../../desk/session/mend-session.ts');
  const wish = { ...wishOf(options, context), takes: options.take, none: options.none === true };
  const result = await mendSession({ ...wish, session });
  context.progress.end();
  for (const one of result.takes) {
    context.say(`${one.take}${one.take === one.voice ? '' : ` (${one.voice})`}:`);
    for (const line of sessionLines(one, options.referenceHz)) context.say(`  ${line}`);
  }
  for (const note of result.notes) context.say(note);
  return result;
}

function sessionLines({ before, after, proposed, notes }: MendedInSession, referenceHz: number | undefined): string[] {
  const lines = before === null ? ['No pitch was found in it.'] : [standLine('Now', before, referenceHz)];
  if (after !== null) lines[0] = before === null ? lines[0]! : standLine('Before', before, referenceHz);
  if (after !== null) lines.push(standLine('After', after, referenceHz));
  if (notes.length === 0 && proposed !== null) lines.push(...proposalLines(proposed, referenceHz));
  return [...lines, ...notes];
}

function linesOf(report: MendClipReport, referenceHz: number | undefined): string[] {
  const { before, after, proposed, out, notes } = report;
  const lines = before === null ? ['No pitch was found in it.'] : [standLine('Before', before, referenceHz)];
  if (out === null) {
    if (proposed !== null) lines.push(...proposalLines(proposed, referenceHz));
    return [...lines, ...notes];
  }
  if (after !== null) lines.push(standLine('After', after, referenceHz));
  return [...lines, ...notes, `Written: ${out}`];
}

function standLine(when: string, stand: PitchStand, referenceHz: number | undefined): string {
  const off = referenceHz === undefined ? '' : `, ${signed(stand.offCents)} cents from ${referenceHz} Hz`;
  return `${when}: ${stand.notes} notes; A is ${stand.referenceHz.toFixed(1)} Hz${off}; ${signed(stand.driftCents)} cents from beginning to end.`;
}

function proposalLines(proposed: NonNullable<MendClipReport['proposed']>, referenceHz: number | undefined): string[] {
  const lines: string[] = [];
  if (referenceHz !== undefined && proposed.cents !== 0) lines.push(`It could be moved by --cents ${proposed.cents}.`);
  const last = proposed.curve.at(-1);
  if (last !== undefined)
    lines.push(`It could be led along a curve, at its end by ${signed(last.cents)} cents: --against-sink.`);
  return lines.length === 0 ? ['Nothing needs mending by what was measured.'] : lines;
}

function signed(cents: number): string {
  return `${cents < 0 ? '\u2212' : '+'}${Math.abs(cents).toFixed(1)}`;
}

function centsOf(text: string): number | 'auto' {
  if (text.trim().toLowerCase() === 'auto') return 'auto';
  return numberWithin('The move', -FARTHEST_MOVE_CENTS, FARTHEST_MOVE_CENTS)(text);
}

function nudgeOf(text: string): Nudge {
  const at = text.lastIndexOf(':');
  const byMs = numberWithin('A nudge in ms', -FARTHEST_NUDGE_MS, FARTHEST_NUDGE_MS);
  if (at < 0) throw new InvalidArgumentError('A nudge is FROM-TO:MS, for example 12.5-14:-30 or 0:12.5-0:14:20.');
  return { ...parseSpan(text.slice(0, at)), byMs: byMs(text.slice(at + 1)) };
}
