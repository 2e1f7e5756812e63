import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { heardTakes, soundingTake } from '../../core/session/passages.ts';
import { levelForReport, type Report } from '../../core/session/report.ts';
import type { Session, Take } from '../../core/session/schema.ts';
import { clockOf } from '../../core/signal/clock.ts';
import type { RenderView } from '../shell/contract/desk-view.ts';
import { Cache } from './cache.ts';
import { SOUND_VERSIONS } from './steps.ts';

/** A finished render as it is remembered over a restart. */
export interface KeptRender {
  readonly view: Omit<RenderView, 'current'>;
  /** Of the session it was made from. */
  readonly key: string;
}

/** The cache entry that remembers the newest render. */
export const RENDER_KEY = Cache.keyOf('newest render');

/** The newest render of a session, whether the desk made it or the command line; undefined where its files are not there any more. */
export function newestRender(cache: Cache): KeptRender | undefined {
  const kept = cache.record<KeptRender>(RENDER_KEY);
  return kept?.view.files.every(({ path }) => existsSync(path)) === true ? kept : undefined;
}

/** Remembers a render that was just finished. files: what was made, as paths inside the folder, but for the reports. */
export async function rememberRender(
  cache: Cache,
  session: Session,
  made: {
    readonly folder: string;
    readonly files: readonly string[];
    readonly report: Report;
    readonly limiterMaxDb: number;
  },
): Promise<KeptRender> {
  const kept = { view: await viewOf(made.folder, made.files, made.report, made.limiterMaxDb), key: renderKey(session) };
  cache.keep(RENDER_KEY, kept);
  return kept;
}

/** Names everything that shapes a session's render: what is in the session, and how this Partsong goes about it. */
export function renderKey(session: Session, versions = SOUND_VERSIONS): string {
  const voices = session.voices.flatMap((voice) => {
    const main = soundingTake(session, voice);
    if (main === undefined) return [];
    const { id: _id, colour: _colour, chosenTakeId, passages, ...heard } = voice;
    const shapeOf = ({ clip, part, silence, clean, mend, placement }: Take): unknown[] => {
      const place = placement === null ? null : [clockOf(placement), placement.uncertaintySec];
      return [clip.fingerprint, part, silence, clean, mend, place];
    };
    if (voice.passages === null) return [[heard, ...shapeOf(main)]];
    return [[heard, chosenTakeId, passages, ...heardTakes(session, voice).map(shapeOf)]];
  });
  return Cache.keyOf('render', versions, session.title, session.mix, voices);
}

async function viewOf(
  folder: string,
  files: readonly string[],
  report: Report,
  limiterMaxDb: number,
): Promise<Omit<RenderView, 'current'>> {
  const made: RenderView['files'][number][] = [];
  const peaks = new Map(report.takes.map(({ stem, stemTruePeakDbtp }) => [join(stem ?? ''), stemTruePeakDbtp]));
  for (const name of [...files, 'report.html', 'report.json']) {
    const path = join(folder, name);
    const what = name.startsWith('report')
      ? 'report'
      : name.startsWith('mix-')
        ? 'copy'
        : name === 'mix.wav'
          ? 'mix'
          : 'stem';
    const peak = what === 'stem' ? peaks.get(join(name)) : undefined;
    made.push({
      ...{ path, what, sizeBytes: (await stat(path)).size },
      ...(peak === undefined ? {} : { truePeakDbtp: peak }),
    });
  }
  const { mix } = report;
  return {
    folder,
    files: made,
    integratedLufs: mix.integratedLufs,
    truePeakDbtp: mix.truePeakDbtp,
    rangeLu: mix.rangeLu,
    lengthSec: mix.lengthSec,
    limiterMaxDb: levelForReport(limiterMaxDb) ?? 0,
    targetLufs: mix.targetLufs,
    ceilingDbtp: mix.ceilingDbtp,
    shortTermLufs: mix.shortTermLufs,
    notes: report.notes,
  };
}
