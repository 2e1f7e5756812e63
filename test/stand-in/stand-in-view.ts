import type { DeskView, TakeFacts } from '../../app/shell/contract/desk-view.ts';
import { spreadPlaces } from '../../core/mix/place.ts';
import type { Session } from '../../core/session/schema.ts';
import { inventedJoins } from './stand-in-cases.ts';
import { inventedFacts } from './stand-in-facts.ts';

/** What the running order says of a bad chord. */
export const outOfTune = {
  state: 'lookHere',
  busy: false,
  sentence: 'The worst chord is 92 cents out of tune. Listen to it.',
} as const;

/** The whole view of a session at rest, but for what changes with each edit. */
export function inventedView(
  session: Session,
  lengthSec: number,
): Omit<DeskView, 'revision' | 'undoLabel' | 'redoLabel'> {
  const places = spreadPlaces(session.voices.map((voice) => voice.role));
  const facts = (takeId: string, n: number): TakeFacts => inventedFacts(session, takeId, n, lengthSec);
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
    steps: inventedSteps(session),
    jobs: [{ id: 'job-1', kind: 'lineUp', title: 'Lining up 4 takes', fraction: 0.4, leftSec: 12, canStop: true }],
    render: null,
    madeGuide: null,
    madePicture: null,
    trials: [],
    intonation: null,
  };
}

function inventedSteps(session: Session): DeskView['steps'] {
  return {
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
  };
}
