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
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import type { MixdownResult } from '../work/tasks/mixdown.ts';
import type { MixState } from './mix-clips.ts';
import { placementReport } from './placement.ts';
import type { RenderFolder } from './render-folder.ts';
import { time } from './report/markup.ts';
import { reportPage } from './report/page.ts';

/** Writes report.json and report.html of a mix and gives the report. */
export async function writeReport(
  folder: RenderFolder,
  state: MixState,
  mix: MixdownResult,
  span: Span | null,
  copies: readonly (CopyReport & { notes: readonly string[] })[],
): Promise<Report> {
  const takes = state.takes.map((_, index) => takeReport(state, index));
  const report: Report = {
    format: 'partsong-report',
    version: 1,
    title: state.session.title,
    takes,
    mix: mixReport(state, mix, span, copies),
    notes: [
      ...state.notes,
      ...(span === null
        ? []
        : [
            `The mix sounds from ${time(span.fromSec)} to ${time(span.toSec)} of the session and is silent before and after, so that claps and handling stay out. The stems hold everything.`,
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
      state.takes.map((take) => take.peaks ?? undefined),
    ),
  );
  return report;
}

function mixReport(state: MixState, mix: MixdownResult, span: Span | null, copies: readonly CopyReport[]): MixReport {
  return {
    file: 'mix.wav',
    integratedLufs: levelForReport(mix.integratedLufs),
    truePeakDbtp: levelForReport(mix.truePeakDbtp),
    rangeLu: Math.round(mix.rangeLu * 100) / 100,
    lengthSec: mix.lengthFrames / SESSION_RATE_HZ,
    limiterMaxDb: Math.round(mix.limiterMaxDb * 100) / 100,
    targetLufs: state.options.targetLufs,
    ceilingDbtp: state.options.ceilingDbtp,
    music: span,
    shortTermLufs: mix.shortTermLufs.map(levelForReport),
    copies: copies.map(({ file, lengthSec, integratedLufs, truePeakDbtp }) => ({
      file,
      lengthSec,
      integratedLufs,
      truePeakDbtp,
    })),
  };
}

function takeReport(state: MixState, index: number): TakeReport {
  const take = state.takes[index]!;
  const voice = state.session.voices[index]!;
  const blended = state.voices[index]!;
  const cleaned = state.cleaned[index];
  const placement = state.placements[index]!;
  return {
    file: basename(take.file),
    name: state.session.takes[index]!.name,
    voice: voice.name,
    lengthSec: take.lengthFrames / take.rateHz,
    stem: `stems/${state.stemNames[index]}`,
    silence: cleaned?.silence ?? null,
    noise: cleaned?.noise ?? null,
    placement: placementReport(placement),
    loudness: { integratedLufs: levelForReport(blended.integratedLufs) },
    music: blended.music === undefined ? null : inTakeTime(blended.music, placement, take.lengthFrames / take.rateHz),
    gainDb: Math.round(blended.strip.gainDb * 100) / 100,
    role: voice.role,
    placeDeg: blended.strip.placeDeg,
    notes: [
      ...(blended.leftOut ? ['It is left out of the mix, since its place is not known; its stem is there.'] : []),
      ...take.notes,
      ...(cleaned?.notes ?? []),
      ...(blended.isOff ? [blended.reason] : []),
    ],
  };
}

function inTakeTime(span: Span, placement: { offsetSec: number; driftPpm: number }, lengthSec: number): Span {
  const at = (sessionSec: number): number =>
    Math.min(lengthSec, Math.max(0, (sessionSec - placement.offsetSec) * (1 + placement.driftPpm * 1e-6)));
  return { fromSec: at(span.fromSec), toSec: at(span.toSec) };
}
