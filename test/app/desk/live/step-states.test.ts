import { describe, expect, it } from 'vitest';
import { stepStates } from '../../../../app/desk/live/step-states.ts';
import type { StepsInput } from '../../../../app/desk/live/steps-input.ts';
import type { BlendView, RenderView, TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import { emptySession, type Placement, type Session, type Take } from '../../../../core/session/schema.ts';
import { aTake, aVoice } from '../desk-kit.ts';

const placement: Placement = {
  offsetSec: 0,
  driftPpm: 0,
  uncertaintySec: 0.001,
  driftUncertaintyPpm: 1,
  confidence: 0.9,
  question: null,
  by: 'found',
  evidence: [],
};

const facts = (takeId: string): TakeFacts => ({
  takeId,
  state: 'ready',
  fault: null,
  file: `/clips/${takeId}.m4a`,
  lengthSec: 60,
  clipSec: 60,
  part: null,
  several: null,
  played: null,
  rateHz: 48000,
  codec: 'aac',
  channels: 1,
  hasPicture: false,
  picture: null,
  peakDbfs: -6,
  clipped: [],
  silences: [],
  waves: { before: true, after: true },
  notes: [],
  clean: {
    state: 'ready',
    unfit: null,
    silence: { fromSec: 1, toSec: 4, how: 'found' },
    silenceConfidence: 0.9,
    noise: null,
    whistlesHz: [],
    lines: [],
    restoredSamples: 0,
    backedOff: 0,
    notes: [],
  },
  integratedLufs: -20,
  music: { fromSec: 5, toSec: 55 },
  mended: 'none',
  mendNotes: [],
  playable: true,
});

const render: RenderView = {
  folder: '/renders',
  files: [],
  integratedLufs: -14.02,
  truePeakDbtp: -1,
  rangeLu: 4,
  lengthSec: 60,
  limiterMaxDb: 1,
  targetLufs: -14,
  ceilingDbtp: -1,
  shortTermLufs: [],
  notes: [],
  current: true,
};

/** Two voices with a take each, all well. */
function allWell(): { -readonly [Key in keyof StepsInput]: StepsInput[Key] } & { session: Session } {
  const voices = ['Horn', 'Flute'].map((name, n) => ({ ...aVoice(`v${n + 1}`), name, chosenTakeId: `t${n + 1}` }));
  const takes = voices.map((voice, n) => ({ ...aTake(`t${n + 1}`, voice.id), name: voice.name, placement }));
  const blend: BlendView = {
    voices: voices.map((voice, n) => ({
      voiceId: voice.id,
      takeId: `t${n + 1}`,
      gainDb: 0,
      placeDeg: 0,
      leftOut: false,
      reason: '',
      isOff: false,
      joins: [],
    })),
    span: null,
    lengthFrames: 1,
    master: { gainDb: 0, ceilingDbtp: -1 },
    measuring: false,
  };
  return {
    session: { ...emptySession('Round'), voices, takes },
    takes: { t1: facts('t1'), t2: facts('t2') },
    guide: null,
    blend,
    render,
    madePicture: null,
    trials: [],
    intonation: null,
    busy: {
      ...{ guide: false, soundCheck: false, takes: false, clean: false, lineUp: true },
      ...{ intonation: false, blend: false, picture: false, render: false },
    },
  };
}

const withTake = (session: Session, id: string, change: Partial<Take>): Session => ({
  ...session,
  takes: session.takes.map((take) => (take.id === id ? { ...take, ...change } : take)),
});
const told = (input: StepsInput) =>
  Object.fromEntries(Object.entries(stepStates(input)).map(([name, step]) => [name, [step.state, step.sentence]]));

describe('the states of the running order', () => {
  it('are all to do in an empty session', () => {
    const { busy } = allWell();
    const session = emptySession('');
    const states = stepStates({
      session,
      takes: {},
      guide: null,
      blend: null,
      render: null,
      madePicture: null,
      trials: [],
      intonation: null,
      busy,
    });
    expect(Object.values(states).map((step) => step.state)).toEqual(Array(9).fill('toDo'));
    expect(states.lineUp.busy).toBe(true);
    expect(states.intonation.sentence).toBe('Partsong can listen to the pitch once there are takes.');
  });

  it('are all done when all is well, and say so in a sentence', () => {
    expect(told(allWell())).toEqual({
      guide: ['done', 'Without a guide: the voices are lined up with one another.'],
      soundCheck: ['toDo', 'Nothing was checked; a recording that you have can be checked as well.'],
      takes: ['done', '2 takes of 2 voices.'],
      clean: ['done', '2 takes are clean.'],
      lineUp: ['done', '2 takes have their place.'],
      intonation: ['toDo', 'Let Partsong listen to the pitch; you can go on without it.'],
      blend: ['done', 'All voices are at their level.'],
      picture: ['done', 'None of the clips was filmed, so there is no video to make.'],
      render: ['done', 'The mix is made, at \u221214.0 LUFS.'],
    });
  });

  it('ask to look where a clip is missing, cannot be used, or is clipped', () => {
    const input = allWell();
    const takes = (change: Partial<TakeFacts>) =>
      told({ ...input, takes: { ...input.takes, t1: { ...facts('t1'), ...change } } });
    expect(takes({ state: 'missing' })['takes']).toEqual(['lookHere', 'One clip is not where it was. Find it again.']);
    const useless = takes({ state: 'faulty', lengthSec: 0 });
    expect(useless['takes']![0]).toBe('lookHere');
    expect(useless['blend']).toEqual(['lookHere', 'Horn is not in the mix: its clip cannot be used.']);
    expect(takes({ clipped: [{ fromSec: 1, toSec: 2 }] })['takes']).toEqual([
      'lookHere',
      'Horn is clipped: the recorder cut off the loudest waves. Listen, and mark what serves as good.',
    ]);
    const heard = { ...input.session, takes: input.session.takes.map((take) => ({ ...take, mark: 'good' as const })) };
    const clippedFacts = { ...input.takes, t1: { ...facts('t1'), clipped: [{ fromSec: 1, toSec: 2 }] } };
    expect(told({ ...input, session: heard, takes: clippedFacts })['takes']![0]).toBe('done');
    expect(takes({ state: 'reading' })['takes']).toEqual(['toDo', 'The clips are being read.']);
  });

  it('name the clips that seem to hold several takes', () => {
    const input = allWell();
    const several = { parts: [], outline: [] };
    const of = (...ids: string[]) =>
      told({
        ...input,
        takes: { ...input.takes, ...Object.fromEntries(ids.map((id) => [id, { ...facts(id), several }])) },
      })['takes'];
    expect(of('t2')).toEqual([
      'lookHere',
      'Flute seems to hold several takes. Make them takes of their own, or keep it as one.',
    ]);
    expect(of('t1', 't2')![1]).toMatch(/^Horn and Flute seem to hold several takes\. .* keep each as one\.$/);
  });

  it('ask to look where a voice has several takes and none is chosen', () => {
    const input = allWell();
    const session = {
      ...input.session,
      voices: input.session.voices.map((voice) => ({ ...voice, chosenTakeId: null })),
      takes: [...input.session.takes, { ...aTake('t3', 'v1'), placement }],
    };
    expect(told({ ...input, session, takes: { ...input.takes, t3: facts('t3') } })['takes']).toEqual([
      'lookHere',
      'Horn has no take that is chosen.',
    ]);
  });

  it('ask to look at a doubtful silence, and at a take that could not be cleaned, unless cleaning is off for it', () => {
    const input = allWell();
    const clean = (change: Partial<TakeFacts['clean']>): StepsInput => ({
      ...input,
      takes: { ...input.takes, t2: { ...facts('t2'), clean: { ...facts('t2').clean, ...change } } },
    });
    expect(told(clean({ silenceConfidence: 0.4 }))['clean']).toEqual([
      'lookHere',
      'The silence of Flute may hold more than the room. Listen to it.',
    ]);
    const given = clean({ silenceConfidence: 0.4, silence: { fromSec: 0, toSec: 2, how: 'given' } });
    expect(told(given)['clean']![0]).toBe('done');
    const unfit = clean({ state: 'unfit', unfit: 'why' });
    expect(told(unfit)['clean']![0]).toBe('lookHere');
    const off = withTake(input.session, 't2', { clean: { on: false, character: 'even', rule: 'lsa', fine: null } });
    expect(told({ ...unfit, session: off })['clean']).toEqual(['done', '1 of 2 takes are clean.']);
  });

  it('ask to look at a placement with a question, and count those placed by hand', () => {
    const input = allWell();
    const asking = withTake(input.session, 't1', { placement: { ...placement, question: 'Where?' } });
    expect(told({ ...input, session: asking })['lineUp']).toEqual(['lookHere', 'Horn asks where it belongs.']);
    const byHand = withTake(input.session, 't1', { placement: { ...placement, by: 'user' } });
    expect(told({ ...input, session: byHand })['lineUp']).toEqual(['done', '2 takes have their place. 1 by hand.']);
    const open = withTake(input.session, 't1', { placement: null });
    expect(told({ ...input, session: open })['lineUp']![0]).toBe('toDo');
  });

  it('ask to look at a take that may lie more than 10 ms off anywhere, until the user accepts it', () => {
    const input = allWell();
    const told14Ms = (by: 'found' | 'user') =>
      told({
        ...input,
        session: withTake(input.session, 't1', { placement: { ...placement, residualSec: 0.014, by } }),
      });
    expect(told14Ms('found')['lineUp']).toEqual([
      'lookHere',
      'Horn may not stay in its place to the end: look at the curve of offset over time.',
    ]);
    expect(told14Ms('user')['lineUp']![0]).toBe('done');
  });

  it('tell a take of which no moment is known better from one that may leave its place', () => {
    const input = allWell();
    const vague = { ...placement, uncertaintySec: 0.013, residualSec: 0.0134, by: 'found' } as const;
    const one = withTake(input.session, 't1', { placement: vague });
    expect(told({ ...input, session: one })['lineUp']).toEqual([
      'lookHere',
      'The place of Horn is known to about 13 ms only. Listen whether the takes are together.',
    ]);
  });

  it('say that takes lie by their claps alone where that is told at the one they lie by, and not that it leaves its place', () => {
    const input = allWell();
    const mark = withTake(input.session, 't1', { placement: { ...placement, by: 'found', warning: 'Laid by claps.' } });
    expect(told({ ...input, session: mark })['lineUp']).toEqual([
      'lookHere',
      'Listen whether the takes are together: they lie by their claps alone, with Horn as mark.',
    ]);
  });

  it('quote the chord that the bench lists first, not the one whose interval is off by most', () => {
    const chord = (offCents: number) => ({ worst: { offCents } });
    const report = { intonation: { worstChords: [chord(-18), chord(22)] }, voices: [] };
    const intonation = { state: 'ready', report, fault: null } as unknown as StepsInput['intonation'];
    expect(told({ ...allWell(), intonation })['intonation']).toEqual([
      'lookHere',
      'The worst chord is 18 cents out of tune. Listen to it.',
    ]);
  });

  it('count a single take of a single voice in plain words', () => {
    const input = allWell();
    const session = {
      ...input.session,
      voices: input.session.voices.slice(0, 1),
      takes: input.session.takes.slice(0, 1),
    };
    expect(told({ ...input, session })['takes']).toEqual(['done', 'One take of one voice.']);
  });

  it('do not call a take clipped of which only the clap is', () => {
    const input = allWell();
    const clap = { kind: 'clap', takeSec: 3, accepted: true } as unknown as (typeof placement.evidence)[number];
    const session = withTake(input.session, 't1', { placement: { ...placement, evidence: [clap] } });
    const at = (fromSec: number) => ({
      ...input,
      session,
      takes: { ...input.takes, t1: { ...input.takes['t1']!, clipped: [{ fromSec, toSec: fromSec + 0.01 }] } },
    });
    expect(told(at(3.1))['takes']![0]).toBe('done');
    expect(told(at(9))['takes']![0]).toBe('lookHere');
  });

  it('ask to look at a voice that is left out or off its level', () => {
    const input = allWell();
    const blend = (change: object): StepsInput => ({
      ...input,
      blend: { ...input.blend!, voices: input.blend!.voices.map((one) => ({ ...one, ...change })) },
    });
    expect(told(blend({ isOff: true }))['blend']).toEqual([
      'lookHere',
      'Horn and Flute could not be brought to their level.',
    ]);
    expect(told(blend({ leftOut: true }))['blend']![0]).toBe('lookHere');
  });

  it('have a render to do again when it is old, and to look at when it missed its target', () => {
    const input = allWell();
    expect(told({ ...input, render: { ...render, current: false } })['render']![0]).toBe('toDo');
    expect(told({ ...input, render: { ...render, integratedLufs: -15 } })['render']![0]).toBe('lookHere');
  });
});
