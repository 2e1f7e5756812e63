import type { Bridge, BridgeCalls } from '../../app/shell/contract/bridge.ts';
import { callInputs, callNames } from '../../app/shell/contract/calls.ts';
import type { DeskView, StartView, TakeFacts } from '../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../app/shell/contract/events.ts';
import type { PitchReportView } from '../../app/shell/contract/intonation-view.ts';
import { spreadPlaces } from '../../core/mix/place.ts';
import { editLabel } from '../../core/session/edit-label.ts';
import { beginHistory, doEdit, redo, type Step, undo } from '../../core/session/history.ts';
import { emptySession, type Session } from '../../core/session/schema.ts';
import { inventedJoins, inventedRender, inventedVideo, withCases } from './stand-in-cases.ts';
import { inventedGuide, inventedPlan, inventedScore, inventedTrials } from './stand-in-guide.ts';
import { inventedCurve, inventedIntonation } from './stand-in-intonation.ts';
import { inventedPlacement } from './stand-in-trail.ts';

const NAMES = ['Soprano recorder', 'Alto recorder', 'Tenor viol', 'Bass viol'];

/**
 * A door onto an invented session, for looking at the screen without a desk. Query: `voices` (4), `length` seconds (60),
 * `trail` for what was heard along the takes (trail=pins: the second was pinned), `takes` of each voice (1), `guide` for one, `bars` (0) of a guide made here, `trials` of the sound check, `pitch` (or
 * pitch=stale) for a report of the intonation, `empty` for the start screen. Edits, undo and redo work; long work does not.
 */
export function standInBridge(query: URLSearchParams): Bridge {
  const lengthSec = Number(query.get('length') ?? 60);
  const count = Number(query.get('voices') ?? 4);
  const listeners = new Set<(event: DeskEvent) => void>();
  const tellAll = (event: DeskEvent): void => {
    for (const listener of listeners) listener(event);
  };
  let history = beginHistory(withMore(inventedSession(count), Number(query.get('takes') ?? 1), query));
  let revision = 1;
  let isOpen = !query.has('empty');
  const labels = () => ({
    undoLabel: labelOf(history.past.at(-1), history.present),
    redoLabel: labelOf(history.future.at(-1), history.present),
  });
  const viewNow = (): DeskView => ({
    ...withCases(inventedView(history.present, lengthSec), query, lengthSec),
    madeGuide: query.has('bars') ? inventedGuide() : null,
    trials: query.has('trials') ? inventedTrials() : [],
    ...(query.has('pitch')
      ? { steps: { ...inventedView(history.present, lengthSec).steps, intonation: outOfTune } }
      : {}),
    intonation: query.has('pitch') ? inventedIntonation(history.present, query.get('pitch'), lengthSec) : null,
    revision,
    ...labels(),
  });
  const move = (next: typeof history): { revision: number } => {
    history = next;
    revision++;
    tellAll({ kind: 'replaced', revision, session: history.present, ...labels() });
    follow();
    return { revision };
  };
  let curvesOf: { readonly session: Session; readonly report: PitchReportView | null } | null = null;
  const curveUrl = (route: string): string => {
    const id = decodeURIComponent(/^pitch\/([^?]*)/.exec(route)![1]!);
    const session = history.present;
    if (curvesOf?.session !== session) {
      curvesOf = { session, report: inventedIntonation(session, null, lengthSec).report };
    }
    const { report } = curvesOf;
    return URL.createObjectURL(new Blob(report === null ? [] : [inventedCurve(report, id)]));
  };
  /** What follows from an edit after a while: the blend, and what is heard mended. */
  let following: ReturnType<typeof setTimeout> | undefined;
  const follow = (): void => {
    setTimeout(() => tellAll({ kind: 'parts', parts: { blend: viewNow().blend } }), 50);
    if (!query.has('pitch')) return;
    clearTimeout(following);
    following = setTimeout(() => {
      const { takes } = viewNow();
      for (const takeId of Object.keys(takes)) tellAll({ kind: 'take', takeId, facts: takes[takeId]! });
      tellAll({ kind: 'parts', parts: { intonation: inventedIntonation(history.present, null, lengthSec) } });
    }, 400);
  };
  const answers: Partial<Record<string, (input: never) => unknown>> = {
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
      desk: isOpen ? viewNow() : null,
    }),
    newSession: () => viewNow(),
    openSession: () => viewNow(),
    openSample: () => {
      isOpen = true;
      tellAll({ kind: 'opened', view: viewNow() });
      return viewNow();
    },
    closeSession: () => {
      isOpen = false;
      tellAll({ kind: 'closed' });
      return null;
    },
    edit: ({ edit, mergeKey, by, seq }: { edit: never; mergeKey: string | null; by: string; seq: number }) => {
      history = doEdit(history, edit, mergeKey ?? undefined);
      revision++;
      tellAll({ kind: 'edited', revision, edit, by, seq, ...labels() });
      follow();
      return { revision };
    },
    undo: () => move(undo(history)),
    redo: () => move(redo(history)),
    render: ({ stems }: { stems: boolean }) => {
      const job = { id: 'job-2', kind: 'render' as const, title: 'Rendering the mix', leftSec: 40, canStop: true };
      tellAll({ kind: 'parts', parts: { jobs: [{ ...job, fraction: 0.3 }] } });
      setTimeout(() => {
        const names = stems ? history.present.voices.map((voice) => voice.name) : [];
        tellAll({ kind: 'parts', parts: { jobs: [], render: inventedRender(lengthSec, names, true) } });
      }, 1500);
      return { jobId: job.id };
    },
    joinPoints: ({ atSec }: { atSec: number }) => ({
      points: [-0.1, 0.25, -0.4].map((bySec) => ({ atSec: atSec + bySec, kind: 'rest' as const })),
    }),
    listenToTakes: () => null,
    preparePictures: () => ({ filters: ['xstack', 'zscale', 'tonemap'] }),
    matchedTones: () => ({
      tones: Object.fromEntries(
        history.present.voices.map(({ id }, n) => [id, n === 0 ? { gain: 0.75, blueShift: -8, redShift: 6 } : null]),
      ),
    }),
    gatherClips: ({ folder }: { folder: string | null }) => ({
      ...{ folder: folder ?? '/home/player/Partsong/evening-canon/gathered', list: 'Evening canon.otio' },
      ...{ files: 9, sizeBytes: 812e6, linked: 0, notes: [] },
    }),
    findSolos: () => ({
      solos: Object.fromEntries(
        history.present.voices.slice(0, 2).map(({ id }, n) => [id, [{ fromSec: 4 + 6 * n, toSec: 8 + 6 * n }]]),
      ),
    }),
    renderPicture: () => {
      const job = { id: 'job-3', kind: 'picture' as const, leftSec: 40, canStop: true };
      tellAll({ kind: 'parts', parts: { jobs: [{ ...job, title: 'Rendering picture 431 of 1300', fraction: 0.33 }] } });
      setTimeout(() => tellAll({ kind: 'parts', parts: { jobs: [], madePicture: inventedVideo(lengthSec) } }), 1500);
      return { jobId: job.id };
    },
    listenToPitch: () => {
      const job = { id: 'job-4', kind: 'pitch' as const, leftSec: 20, canStop: true };
      const before = query.has('pitch') ? inventedIntonation(history.present, null, lengthSec).report : null;
      tellAll({
        kind: 'parts',
        parts: {
          jobs: [{ ...job, title: 'Listening to the pitch of 4 voices', fraction: 0.4 }],
          intonation: { state: 'working', fault: null, report: before },
        },
      });
      setTimeout(
        () =>
          tellAll({
            kind: 'parts',
            parts: { jobs: [], intonation: inventedIntonation(history.present, null, lengthSec) },
          }),
        1500,
      );
      return { jobId: job.id };
    },
    stopJob: () => {
      tellAll({ kind: 'parts', parts: { jobs: [] } });
      return null;
    },
    readScore: ({ file }: { file: string }) => inventedScore(file),
    tryGuide: () => ({ lengthSec: 78, stamp: revision }),
    pickFiles: () => null,
    pickFolder: () => null,
  };
  const calls = Object.fromEntries(
    callNames.map((name) => [
      name,
      async (input: unknown) => {
        const checked = callInputs[name].parse(input) as never;
        return answers[name]?.(checked) ?? null;
      },
    ]),
  ) as unknown as BridgeCalls;
  return {
    door: 'browser',
    calls,
    onEvent(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    onLost: () => () => {},
    mediaUrl: (route) =>
      route.startsWith('pitch/')
        ? curveUrl(route)
        : `/media/${route}${route.includes('?') ? '&' : '?'}length=${lengthSec}`,
    pathsOf: async (files) => files.map((file) => `/stand-in/${file.name}`),
  };
}

const outOfTune = {
  state: 'lookHere',
  busy: false,
  sentence: 'The worst chord is 92 cents out of tune. Listen to it.',
} as const;

function labelOf(step: Step | undefined, present: Session): string | null {
  return step === undefined ? null : editLabel(step.edit, step.session, present);
}

function inventedSession(count: number): Session {
  const numbers = Array.from({ length: count }, (_, n) => n);
  return {
    ...emptySession('Evening canon'),
    voices: numbers.map((n) => ({
      id: `voice-${n + 1}`,
      name: NAMES[n] ?? `Voice ${n + 1}`,
      role: n === 0 ? 'lead' : n === 3 ? 'bass' : 'inner',
      colour: n % 6,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: `take-${n + 1}`,
      passages: null,
    })),
    takes: numbers.map((n) => ({
      id: `take-${n + 1}`,
      name: `0${n + 1} ${NAMES[n] ?? 'voice'}`,
      voiceId: `voice-${n + 1}`,
      clip: { path: `clips/take-${n + 1}.m4a`, sizeBytes: 1_000_000, fingerprint: 'a'.repeat(64) },
      silence: null,
      clean: { on: true, character: 'even', rule: 'lsa', fine: null },
      mark: 'none',
      remark: '',
      part: null,
      mend: null,
      placement: {
        offsetSec: (n % 4) * 0.35 - 0.4,
        driftPpm: 12 * n,
        uncertaintySec: n === 2 ? 0.04 : 0.0004,
        driftUncertaintyPpm: 5,
        confidence: n === 2 ? 0.4 : 0.95,
        question: n === 2 ? 'The clap and the notes disagree by 40 ms; listen and choose.' : null,
        by: 'found',
        evidence: [
          {
            kind: 'clap',
            atSec: 4.6,
            takeSec: (5 - (n % 4) * 0.35) * (1 + 12e-6 * n),
            offsetSec: (n % 4) * 0.35 - 0.4,
            uncertaintySec: 0.012,
            weight: 0.3,
            accepted: true,
            note: 'The clap was found where the guide has its cue.',
          },
          {
            kind: 'onsets',
            atSec: 20,
            takeSec: (20.4 - (n % 4) * 0.35) * (1 + 12e-6 * n) + (n === 2 ? 0.041 : 0),
            offsetSec: (n % 4) * 0.35 - 0.4 - (n === 2 ? 0.041 : 0),
            uncertaintySec: 0.003,
            weight: 0.7,
            accepted: n !== 2,
            note: '64 note beginnings agree with the guide.',
          },
        ],
      },
    })),
  };
}

/** More takes of every voice, of which the first sounds, and a guide. */
function withMore(session: Session, takes: number, query: URLSearchParams): Session {
  const bars = Number(query.get('bars') ?? 0);
  const lengthSec = Number(query.get('length') ?? 60);
  const withTrail = (take: Session['takes'][number], n: number): Session['takes'][number] =>
    query.has('trail') && take.placement !== null
      ? { ...take, placement: inventedPlacement(n, take.placement, lengthSec, query.get('trail') === 'pins') }
      : take;
  const again = Array.from({ length: Math.max(0, takes - 1) }, (_, n) => n + 2);
  return {
    ...session,
    guide:
      query.has('guide') || bars > 0
        ? {
            clip: { path: 'guide.wav', sizeBytes: 5_000_000, fingerprint: 'b'.repeat(64) },
            plan: bars > 0 ? inventedPlan(bars) : null,
          }
        : null,
    takes: session.takes.map(withTrail).flatMap((take) => [
      take,
      ...again.map((n) => ({
        ...take,
        id: `${take.id}-again-${n}`,
        name: `${take.name}, again ${n}`,
        placement: n === 2 ? take.placement : null,
      })),
    ]),
  };
}

function inventedView(session: Session, lengthSec: number): Omit<DeskView, 'revision' | 'undoLabel' | 'redoLabel'> {
  const places = spreadPlaces(session.voices.map((voice) => voice.role));
  const facts = (takeId: string, n: number): TakeFacts => ({
    takeId,
    state: 'ready',
    fault: null,
    file: `/home/player/clips/${takeId}.m4a`,
    lengthSec,
    clipSec: lengthSec,
    part: null,
    several: inventedSeveral(n, lengthSec),
    played: null,
    rateHz: 48000,
    codec: 'aac',
    channels: 1,
    hasPicture: n % 2 === 0,
    picture: null,
    peakDbfs: n === 1 ? 0 : -6,
    clipped:
      n === 1
        ? [
            { fromSec: 20, toSec: 20.4 },
            { fromSec: 31, toSec: 31.1 },
          ]
        : [],
    silences: [{ fromSec: 1, toSec: 4 }],
    waves: { before: true, after: true },
    notes: [],
    clean: {
      state: 'ready',
      unfit: null,
      silence: { fromSec: 1, toSec: 4, how: 'found' },
      silenceConfidence: n === 3 ? 0.4 : 0.9,
      noise: {
        levelDbfs: -52,
        reducedDb: 24,
        humHz: n === 0 ? 50 : null,
        harmDb: -34,
        kurtosisRatio: 1.1,
        character: 'even',
        rule: 'lsa',
        spectrum: Array.from({ length: 29 }, (_, band) => ({
          hz: 1000 * 10 ** ((band - 16) / 10),
          beforeDb: -60 - band + (band === 3 ? 15 : 0),
          afterDb: -86 - band,
        })),
      },
      whistlesHz: n === 0 ? [7812] : [],
      lines:
        n === 0
          ? [
              { hz: 50, levelDbfs: -58 },
              { hz: 100, levelDbfs: -63 },
              { hz: 150, levelDbfs: -70 },
            ]
          : [],
      restoredSamples: n === 1 ? 812 : 0,
      backedOff: 0,
      notes: n === 3 ? ['Look here: the silence found may hold more than the room.'] : [],
    },
    mended: (session.takes.find(({ id }) => id === takeId)?.mend ?? null) === null ? 'none' : 'ready',
    mendNotes: [],
    integratedLufs: -24 + n,
    music: { fromSec: 8, toSec: lengthSec - 1 },
    playable: true,
  });
  return {
    folder: '/home/player/Partsong/evening-canon',
    session,
    saved: 'saved',
    recovered: null,
    takes: Object.fromEntries(session.takes.map((take, n) => [take.id, facts(take.id, n)])),
    guide: session.guide === null ? null : { ...facts('guide', 4), file: '/home/player/guide.wav', clipped: [] },
    blend: {
      voices: session.voices.map((voice, n) => ({
        voiceId: voice.id,
        takeId: `take-${n + 1}`,
        gainDb: 2 - n,
        placeDeg: places[n]!,
        leftOut: false,
        reason: `${voice.name} was recorded at ${-24 + n}.0 LUFS and was moved by ${2 - n}.0 dB.`,
        isOff: false,
        joins: inventedJoins(voice),
      })),
      span: { fromSec: 7.5, toSec: lengthSec - 0.5 },
      lengthFrames: lengthSec * 48000,
      master: { gainDb: 4, ceilingDbtp: -1 },
      measuring: false,
    },
    steps: {
      guide: {
        state: 'done',
        busy: false,
        sentence:
          session.guide?.plan == null
            ? 'Without a guide: the voices are lined up with one another.'
            : `The guide is made: ${session.guide.plan.bars.length} bars.`,
      },
      soundCheck: {
        state: 'toDo',
        busy: false,
        sentence: 'Nothing was checked; a recording that you have can be checked as well.',
      },
      takes: {
        state: 'done',
        busy: false,
        sentence: `${session.takes.length} takes of ${session.voices.length} voices.`,
      },
      clean: { state: 'lookHere', busy: false, sentence: 'One silence may hold more than the room.' },
      lineUp: { state: 'lookHere', busy: true, sentence: 'One take asks a question.' },
      intonation: {
        state: 'toDo',
        busy: false,
        sentence: 'Let Partsong listen to the pitch; you can go on without it.',
      },
      blend: { state: 'done', busy: false, sentence: 'All voices are at their level.' },
      picture: {
        state: 'toDo',
        busy: false,
        sentence: 'Lay out the tiles and render the video; you can go on without one.',
      },
      render: { state: 'toDo', busy: false, sentence: 'Nothing rendered yet.' },
    },
    jobs: [{ id: 'job-1', kind: 'lineUp', title: 'Lining up 4 takes', fraction: 0.4, leftSec: 12, canStop: true }],
    render: null,
    madeGuide: null,
    madePicture: null,
    trials: [],
    intonation: null,
  };
}

/** With `?several` the second voice's clip seems to hold three takes, the first of them broken off. */
function inventedSeveral(n: number, lengthSec: number): TakeFacts['several'] {
  if (n !== 1 || typeof location === 'undefined' || !new URLSearchParams(location.search).has('several')) return null;
  const bounds = [0, 0.18, 0.6, 1].map((share) => share * lengthSec);
  return {
    parts: [0, 1, 2].map((at) => ({
      fromSec: bounds[at]!,
      toSec: bounds[at + 1]!,
      beginsSec: bounds[at]! + 0.04 * lengthSec,
      by: at === 0 ? 'music' : 'clap',
      isBrokenOff: at === 0,
    })),
    outline: Array.from({ length: 480 }, (_, at) => {
      const share = at / 480;
      const isMusic = [
        [0.05, 0.14],
        [0.24, 0.56],
        [0.66, 0.96],
      ].some(([from, to]) => share > from! && share < to!);
      return isMusic ? 0.45 + 0.3 * Math.sin(at / 3) * Math.sin(at / 17) + 0.15 * Math.sin(at * 2.1) : 0.02;
    }),
  };
}
