import type { StartView } from '../../app/shell/contract/desk-view.ts';
import { inventedRender, inventedVideo } from './stand-in-cases.ts';
import type { StandInDesk } from './stand-in-desk.ts';
import { inventedScore } from './stand-in-guide.ts';
import { inventedIntonation } from './stand-in-intonation.ts';

/** Answers by the name of the call; what is not among them is answered by null. */
export type Answers = Partial<Record<string, (input: never) => unknown>>;

/** Opening and closing, edits, and what is answered at once. */
export function answersOf(desk: StandInDesk): Answers {
  return {
    begin: (): StartView => ({
      door: 'browser',
      version: '0.0.0',
      platform: 'linux',
      recents: [
        {
          folder: '/home/player/Partsong/evening-canon',
          title: 'Evening canon',
          voices: 4,
          openedAt: '2026-11-20T18:00:00Z',
          isMissing: false,
        },
        {
          folder: '/home/player/Partsong/morning-round',
          title: 'Morning round',
          voices: 3,
          openedAt: '2026-11-12T18:00:00Z',
          isMissing: true,
        },
      ],
      ffmpeg: 'FFmpeg 5.1',
      ffmpegFault: null,
      home: '/home/player/Partsong',
      desk: desk.isOpen ? desk.view() : null,
    }),
    newSession: () => desk.view(),
    openSession: () => desk.view(),
    openSample: () => {
      desk.isOpen = true;
      desk.tellAll({ kind: 'opened', view: desk.view() });
      return desk.view();
    },
    closeSession: () => {
      desk.isOpen = false;
      desk.tellAll({ kind: 'closed' });
      return null;
    },
    edit: (asked: Parameters<StandInDesk['edit']>[0]) => desk.edit(asked),
    undo: () => desk.undo(),
    redo: () => desk.redo(),
    joinPoints: ({ atSec }: { atSec: number }) => ({
      points: [-0.1, 0.25, -0.4].map((bySec) => ({ atSec: atSec + bySec, kind: 'rest' as const })),
    }),
    listenToTakes: () => null,
    preparePictures: () => ({ filters: ['xstack', 'zscale', 'tonemap'] }),
    matchedTones: () => ({
      tones: Object.fromEntries(
        desk.session.voices.map(({ id }, n) => [id, n === 0 ? { gain: 0.75, blueShift: -8, redShift: 6 } : null]),
      ),
    }),
    gatherClips: ({ folder }: { folder: string | null }) => ({
      ...{ folder: folder ?? '/home/player/Partsong/evening-canon/gathered', list: 'Evening canon.otio' },
      ...{ files: 9, sizeBytes: 812e6, linked: 0, notes: [] },
    }),
    findSolos: () => ({
      solos: Object.fromEntries(
        desk.session.voices.slice(0, 2).map(({ id }, n) => [id, [{ fromSec: 4 + 6 * n, toSec: 8 + 6 * n }]]),
      ),
    }),
    readScore: ({ file }: { file: string }) => inventedScore(file),
    tryGuide: () => ({ lengthSec: 78, stamp: desk.revision }),
    pickFiles: () => null,
    pickFolder: () => null,
  };
}

/** Work that takes a while, and its end. */
export function workOf(desk: StandInDesk): Answers {
  return {
    render: ({ stems }: { stems: boolean }) => {
      const job = { id: 'job-2', kind: 'render' as const, title: 'Rendering the mix', leftSec: 40, canStop: true };
      desk.tellAll({ kind: 'parts', parts: { jobs: [{ ...job, fraction: 0.3 }] } });
      setTimeout(() => {
        const names = stems ? desk.session.voices.map((voice) => voice.name) : [];
        desk.tellAll({ kind: 'parts', parts: { jobs: [], render: inventedRender(desk.lengthSec, names, true) } });
      }, 1500);
      return { jobId: job.id };
    },
    renderPicture: () => {
      const job = { id: 'job-3', kind: 'picture' as const, leftSec: 40, canStop: true };
      desk.tellAll({
        kind: 'parts',
        parts: { jobs: [{ ...job, title: 'Rendering picture 431 of 1300', fraction: 0.33 }] },
      });
      setTimeout(
        () => desk.tellAll({ kind: 'parts', parts: { jobs: [], madePicture: inventedVideo(desk.lengthSec) } }),
        1500,
      );
      return { jobId: job.id };
    },
    listenToPitch: () => {
      const job = { id: 'job-4', kind: 'pitch' as const, leftSec: 20, canStop: true };
      const before = desk.query.has('pitch') ? inventedIntonation(desk.session, null, desk.lengthSec).report : null;
      desk.tellAll({
        kind: 'parts',
        parts: {
          jobs: [{ ...job, title: 'Listening to the pitch of 4 voices', fraction: 0.4 }],
          intonation: { state: 'working', fault: null, report: before },
        },
      });
      setTimeout(
        () =>
          desk.tellAll({
            kind: 'parts',
            parts: { jobs: [], intonation: inventedIntonation(desk.session, null, desk.lengthSec) },
          }),
        1500,
      );
      return { jobId: job.id };
    },
    stopJob: () => {
      desk.tellAll({ kind: 'parts', parts: { jobs: [] } });
      return null;
    },
  };
}
