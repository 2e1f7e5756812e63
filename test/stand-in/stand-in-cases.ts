import type { DeskView, RenderView, TakeFacts } from '../../app/shell/contract/desk-view.ts';

/** A finished render of the invented session. */
export function inventedRender(lengthSec: number, stems: readonly string[], current: boolean): RenderView {
  const folder = '/home/player/Partsong/evening-canon/renders';
  return {
    folder,
    files: [
      { path: `${folder}/mix.wav`, what: 'mix', sizeBytes: 288_000 * lengthSec },
      { path: `${folder}/evening-canon.m4a`, what: 'copy', sizeBytes: 40_000 * lengthSec },
      ...stems.map((name) => ({
        path: `${folder}/stems/${name}.wav`,
        what: 'stem' as const,
        sizeBytes: 192_000 * lengthSec,
      })),
      { path: `${folder}/report.html`, what: 'report', sizeBytes: 41_000 },
    ],
    integratedLufs: -14.02,
    truePeakDbtp: -1.1,
    rangeLu: 5.4,
    lengthSec,
    limiterMaxDb: 2.3,
    targetLufs: -14,
    ceilingDbtp: -1,
    shortTermLufs: Array.from({ length: 2 * lengthSec }, (_, at) =>
      at < 15 ? null : -15 + 4 * Math.sin(at / 9) * Math.sin(at / 31) - 3 * Math.exp(-(at - 15) / 6),
    ),
    notes: [],
    current,
  };
}

/** Changes the invented session to what the query asks for: `missing`, `faulty`, `rendered`, `stale`, `recovered`. */
export function withCases<View extends Omit<DeskView, 'revision' | 'undoLabel' | 'redoLabel'>>(
  view: View,
  query: URLSearchParams,
  lengthSec: number,
): View {
  const takes = { ...view.takes };
  if (query.has('missing')) change(takes, 'take-2', { state: 'missing', playable: false });
  if (query.has('faulty')) {
    const fault = {
      code: 'clip-unreadable',
      message: 'The clip take-3.m4a has no sound in it.',
      nextStep: 'Record it again, or choose another take of this voice.',
      file: '/home/player/clips/take-3.m4a',
    };
    change(takes, 'take-3', { state: 'faulty', playable: false, fault });
  }
  const isRendered = query.has('rendered') || query.has('stale');
  return {
    ...view,
    takes,
    recovered: query.has('recovered')
      ? 'Partsong was not closed last time; your last 3 changes were brought back.'
      : null,
    jobs: query.has('quiet') ? [] : view.jobs,
    render: isRendered ? inventedRender(lengthSec, [], !query.has('stale')) : view.render,
  };
}

function change(takes: Record<string, TakeFacts>, takeId: string, facts: Partial<TakeFacts>): void {
  const before = takes[takeId];
  if (before !== undefined) takes[takeId] = { ...before, ...facts };
}
