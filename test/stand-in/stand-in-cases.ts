import type { DeskView, JoinView, RenderView, TakeFacts } from '../../app/shell/contract/desk-view.ts';
import type { MadePictureView, TakePictureView } from '../../app/shell/contract/picture-view.ts';
import { joinsOf } from '../../core/session/passages.ts';
import type { Voice } from '../../core/session/schema.ts';
import { standInSize } from './stand-in-size.ts';

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
        truePeakDbtp: -7.4,
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

/** A finished video of the invented session. */
export function inventedVideo(lengthSec: number): MadePictureView {
  const folder = '/home/player/Partsong/evening-canon/videos';
  return {
    folder,
    files: [
      { path: `${folder}/Evening canon.mp4`, what: 'video', sizeBytes: 800_000 * lengthSec },
      { path: `${folder}/Evening canon.jpg`, what: 'cover', sizeBytes: 210_000 },
    ],
    canvas: { widthPx: 1920, heightPx: 1080 },
    rate: '25',
    pictures: 25 * lengthSec,
    lengthSec,
    tiles: 4,
    worstOffsetMs: 4.2,
    integratedLufs: -14.03,
    truePeakDbtp: -1.02,
    loweredDb: 0.31,
    tookSec: 41,
    notes: [],
    current: true,
  };
}

/** The moving picture of invented take `n`; the last of every five is still being copied small. */
function inventedPicture(n: number, lengthSec: number): TakePictureView {
  return {
    clip: {
      file: `/home/player/clips/take-${n + 1}.mp4`,
      ...{ streamIndex: 0, zeroSec: 0, startSec: 0, endSec: lengthSec, rate: 25, isUneven: false },
      ...{ coded: standInSize(n), dotAspect: 1, rotationDeg: 0, isInterlaced: false, canSeek: true },
      colour: { matrix: 'bt709', primaries: 'bt709', transfer: 'bt709', range: 'tv' },
    },
    codec: n % 5 === 4 ? 'hevc' : 'h264',
    plays: n % 5 !== 4,
    proxy: n % 5 === 4 ? 'working' : 'ready',
    proxyFault: null,
  };
}

/** Every clip but the third of four was filmed. */
function film(takes: Record<string, TakeFacts>, lengthSec: number): void {
  Object.values(takes).forEach((facts, n) => {
    if (n % 4 === 2) change(takes, facts.takeId, { hasPicture: false });
    else change(takes, facts.takeId, { hasPicture: true, picture: inventedPicture(n, lengthSec) });
  });
}

/** Changes the invented session to what the query asks for: `missing`, `faulty`, `rendered`, `stale`, `recovered`, `pictures`, `filmed`. */
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
  if (query.has('pictures')) film(takes, lengthSec);
  const isRendered = query.has('rendered') || query.has('stale');
  return {
    ...view,
    takes,
    recovered: query.has('recovered')
      ? 'Partsong was not closed last time; your last 3 changes were brought back.'
      : null,
    jobs: query.has('quiet') ? [] : view.jobs,
    madePicture: query.has('filmed') ? inventedVideo(lengthSec) : view.madePicture,
    render: isRendered ? inventedRender(lengthSec, [], !query.has('stale')) : view.render,
  };
}

function change(takes: Record<string, TakeFacts>, takeId: string, facts: Partial<TakeFacts>): void {
  const before = takes[takeId];
  if (before !== undefined) takes[takeId] = { ...before, ...facts };
}

/** Joins as the desk would find them. */
export function inventedJoins(voice: Voice): JoinView[] {
  return joinsOf(voice.passages).map((join, n) => ({
    ...join,
    kind: 'rest',
    fadeSec: 0.02 + 0.01 * n,
    stepDb: 0.4 - n,
    tiltDb: n,
  }));
}
