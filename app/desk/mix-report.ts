import { writeFile } from 'node:fs/promises';
import { basename } from 'node:path';
import {
  type CopyReport,
  levelForReport,
  type MixReport,
  type Report,
  type TakeReport,
} from '../../core/session/report.ts';
import type { Span } from '../../core/session/schema.ts';
import { stripOf } from '../../core/session/strip-of.ts';
import { type Clock, takeSecOf } from '../../core/signal/clock.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { MixdownResult } from '../work/tasks/mixdown.ts';
import { mendNotes, mendReport } from './mend-taken.ts';
import { clockNotes, placementReport } from './placement.ts';
import type { RenderFolder } from './render-folder.ts';
import { type RenderPart, type RenderPlan, takesIn } from './render-mix.ts';
import { time } from './report/markup.ts';
import { reportPage } from './report/page.ts';

/** A stem that was written. */
export interface StemMade {
  /** Within the folder of the render. */
  readonly file: string;
  readonly truePeakDbtp: number;
}

/** Writes report.json and report.html of a mix and gives the report. stems: in the order of the parts; null where none were made. */
export async function writeReport(
  folder: RenderFolder,
  plan: RenderPlan,
  stems: readonly StemMade[] | null,
  mix: MixdownResult,
  copies: readonly (CopyReport & { notes: readonly string[] })[],
): Promise<Report> {
  const { span } = plan;
  const takes = plan.parts.map((part, index) => takeReport(part, stems?.[index] ?? null));
  const report: Report = {
    format: 'partsong-report',
    version: 1,
    title: plan.title,
    takes,
    mix: mixReport(plan, mix, copies),
    notes: [
      ...plan.notes,
      ...(span === null
        ? []
        : [
            `The mix sounds from ${time(span.fromSec)} to ${time(span.toSec)} of the session and is silent before and after, so that claps and handling stay out.${plan.stems ? ' The stems hold everything.' : ''}`,
          ]),
      ...mix.notes,
      ...copies.flatMap((copy) => copy.notes),
    ],
  };
  await writeFile(folder.path('report.json'), `${JSON.stringify(report, undefined, 2)}\n`);
  await writeFile(
    folder.path('report.html'),
    reportPage(
      report,
      plan.parts.map(({ taken }) => taken.peaks ?? undefined),
    ),
  );
  return report;
}

function mixReport(plan: RenderPlan, mix: MixdownResult, copies: readonly CopyReport[]): MixReport {
  return {
    file: 'mix.wav',
    integratedLufs: levelForReport(mix.integratedLufs),
    truePeakDbtp: levelForReport(mix.truePeakDbtp),
    rangeLu: Math.round(mix.rangeLu * 100) / 100,
    lengthSec: mix.lengthFrames / SESSION_RATE_HZ,
    limiterMaxDb: Math.round(mix.limiterMaxDb * 100) / 100,
    targetLufs: plan.targetLufs,
    ceilingDbtp: plan.ceilingDbtp,
    music: plan.span,
    shortTermLufs: mix.shortTermLufs.map(levelForReport),
    copies: copies.map(({ file, lengthSec, integratedLufs, truePeakDbtp }) => ({
      file,
      lengthSec,
      integratedLufs,
      truePeakDbtp,
    })),
  };
}

function takeReport(part: RenderPart, stem: StemMade | null): TakeReport {
  const { voice, take, taken, cleaned, mended, placement, blended } = part;
  const strip = stripOf(voice, blended.finding);
  const lengthSec = taken.lengthFrames / taken.rateHz;
  const out = stem === null ? '.' : '; its stem is there.';
  return {
    file: basename(taken.file),
    name: take.name,
    voice: voice.name,
    lengthSec,
    ...(take.part === null || taken.partOf === undefined ? {} : { part: take.part }),
    stem: stem === null ? null : stem.file,
    ...(stem === null ? {} : { stemTruePeakDbtp: levelForReport(stem.truePeakDbtp) }),
    silence: cleaned?.silence ?? null,
    noise: cleaned?.noise ?? null,
    mend: mended === undefined ? null : mendReport(mended.mend, mended.result),
    placement: placementReport(placement),
    loudness: { integratedLufs: levelForReport(blended.integratedLufs) },
    music: blended.music === undefined ? null : inTakeTime(blended.music, placement, lengthSec),
    gainDb: Math.round(strip.gainDb * 100) / 100,
    role: voice.role,
    placeDeg: strip.placeDeg,
    notes: [
      ...passagesNote(part),
      ...(blended.finding.leftOut ? [`It is left out of the mix, since its place is not known${out}`] : []),
      ...clockNotes(placement),
      ...taken.notes,
      ...(cleaned?.notes ?? []),
      ...mendedNotesOf(part),
      ...(blended.isOff ? [blended.reason] : []),
    ],
  };
}

/** Which takes such a voice is made of, and how they are joined. */
function passagesNote({ composed }: RenderPart): string[] {
  if (composed == null) return [];
  const first = composed.parts[0]!.take.name;
  const rest = composed.matches.map((match, index) => {
    const { fromSec } = composed.passages[index + 1]!;
    const fade = Math.round(1000 * match.fadeSec);
    return `${composed.parts[index + 1]!.take.name} from ${time(fromSec)} (${JOIN_WORDS[match.kind]}, fade ${fade} ms)`;
  });
  return [`It is made of passages, in session time: ${[first, ...rest].join('; ')}.`];
}

/** What was mended in the takes that are heard, each once. */
function mendedNotesOf(part: RenderPart): string[] {
  return takesIn(part).flatMap(({ take, mended }) => {
    if (mended === undefined) return [];
    const notes = mendNotes(mended.mend, mended.result);
    return part.composed == null ? notes : notes.map((note) => `${take.name}: ${note}`);
  });
}

const JOIN_WORDS = { rest: 'in a rest', beginning: 'before a note', held: 'within a tone' } as const;

function inTakeTime(span: Span, placement: Clock, lengthSec: number): Span {
  const at = (sessionSec: number): number => Math.min(lengthSec, Math.max(0, takeSecOf(placement, sessionSec)));
  return { fromSec: at(span.fromSec), toSec: at(span.toSec) };
}
