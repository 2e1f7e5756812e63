import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import { heardTakes, soundingTake } from '../../../core/session/passages.ts';
import type { Take } from '../../../core/session/schema.ts';
import { clapSecOf, spotsBesideClap } from '../../../core/session/take-worth.ts';
import type { StepName, StepView } from '../../shell/contract/desk-view.ts';
import { counted, it, names, was } from './counted-words.ts';
import { lineUpStep } from './line-up-state.ts';
import { isLost, type StepsInput, sounding, type Told, usable } from './steps-input.ts';

/** Below this the silence found is a question to the user. */
const SURE_SILENCE = 0.5;

/** The states of the running order and a sentence for each. Nothing else decides them. */
export function stepStates(input: StepsInput): Record<StepName, StepView> {
  const { busy } = input;
  const view = (name: StepName, [state, sentence]: Told): StepView => ({ state, busy: busy[name], sentence });
  return {
    guide: view('guide', guideStep(input)),
    soundCheck: view('soundCheck', soundCheckStep(input)),
    takes: view('takes', takesStep(input)),
    clean: view('clean', cleanStep(input)),
    lineUp: view('lineUp', lineUpStep(input)),
    intonation: view('intonation', intonationStep(input)),
    blend: view('blend', blendStep(input)),
    picture: view('picture', pictureStep(input)),
    render: view('render', renderStep(input)),
  };
}

function guideStep({ session, guide }: StepsInput): Told {
  if (session.guide === null) {
    return session.takes.length > 0
      ? ['done', 'Without a guide: the voices are lined up with one another.']
      : ['toDo', 'Make the guide you will hear while you record; you can go on without one.'];
  }
  if (guide?.state === 'missing') return ['lookHere', 'The guide is not where it was. Find it again, or make it anew.'];
  if (guide?.state === 'faulty') return ['lookHere', 'The guide cannot be used. See why, or make another.'];
  const { plan } = session.guide;
  if (plan === null) return ['done', 'A guide that was made elsewhere is in use.'];
  return ['done', `The guide is made: ${counted(plan.bars.length, 'bar', 'bars')}.`];
}

function soundCheckStep({ session, trials }: StepsInput): Told {
  const newest = trials.find(({ state }) => state !== 'working');
  if (newest === undefined) {
    return [
      'toDo',
      session.takes.length > 0
        ? 'Nothing was checked; a recording that you have can be checked as well.'
        : 'Record half a minute and check it before you play the whole piece.',
    ];
  }
  if (newest.check === null) return ['lookHere', 'The trial could not be read. See why.'];
  return [newest.check.ready ? 'done' : 'lookHere', newest.check.verdict];
}

function takesStep({ session, takes, guide }: StepsInput): Told {
  const { voices } = session;
  if (session.takes.length === 0) return ['toDo', 'Add the clips that you recorded.'];
  const facts = session.takes.map((take) => takes[take.id]).filter((one) => one !== undefined);
  const missing = facts.filter((one) => one.state === 'missing').length + (guide?.state === 'missing' ? 1 : 0);
  if (missing > 0)
    return [
      'lookHere',
      `${counted(missing, 'clip is', 'clips are')} not where ${was(missing)}. Find ${it(missing)} again.`,
    ];
  const faulty = facts.filter((one) => one.state === 'faulty').length;
  if (faulty > 0)
    return [
      'lookHere',
      `${counted(faulty, 'clip', 'clips')} cannot be used. See why, and record or choose ${it(faulty)} again.`,
    ];
  if (guide?.state === 'faulty') return ['lookHere', 'The guide cannot be used. See why, or choose another.'];
  const mute = voices.filter((voice) => soundingTake(session, voice) === undefined);
  if (mute.length > 0)
    return ['lookHere', `${names(mute)} ${mute.length === 1 ? 'has' : 'have'} no take that is chosen.`];
  const reading = facts.filter((one) => one.state === 'waiting' || one.state === 'reading').length;
  if (reading > 0 || facts.length < session.takes.length) return ['toDo', 'The clips are being read.'];
  // A take that the player has marked as good was listened to.
  const clipped = sounding(session).filter(
    (take) =>
      spotsBesideClap(takes[take.id]?.clipped ?? [], clapSecOf(take)).length > 0 &&
      take.mark !== 'good' &&
      take.mark !== 'best',
  );
  if (clipped.length > 0) {
    return [
      'lookHere',
      `${names(clipped)} ${clipped.length === 1 ? 'is' : 'are'} clipped: the recorder cut off the loudest waves. Listen, and mark what serves as good.`,
    ];
  }
  const several = session.takes.filter(({ id }) => takes[id]?.several != null);
  if (several.length > 0) {
    const isOne = several.length === 1;
    return [
      'lookHere',
      `${names(several)} ${isOne ? 'seems' : 'seem'} to hold several takes. Make them takes of their own, or keep ${isOne ? 'it' : 'each'} as one.`,
    ];
  }
  const ofVoices = voices.length === 1 ? 'one voice' : `${voices.length} voices`;
  return ['done', `${counted(session.takes.length, 'take', 'takes')} of ${ofVoices}.`];
}

function cleanStep(input: StepsInput): Told {
  const { takes } = input;
  const used = usable(input);
  if (used.length === 0) return ['toDo', 'The noise of the room is taken out of each take once there are takes.'];
  const wanted = used.filter((take) => take.clean.on);
  if (wanted.length === 0) return ['done', 'Cleaning is off: the noise stays in.'];
  const clean = (take: Take) => takes[take.id]?.clean;
  const unfit = wanted.filter((take) => clean(take)?.state === 'unfit');
  if (unfit.length > 0) {
    return ['lookHere', `${names(unfit)} could not be cleaned: choose a stretch in which nobody plays.`];
  }
  const doubtful = wanted.filter(
    (take) => clean(take)?.silence?.how === 'found' && (clean(take)?.silenceConfidence ?? 1) < SURE_SILENCE,
  );
  if (doubtful.length > 0) {
    return ['lookHere', `The silence of ${names(doubtful)} may hold more than the room. Listen to it.`];
  }
  if (wanted.some((take) => clean(take)?.state !== 'ready')) return ['toDo', 'The takes are being cleaned.'];
  const backed = wanted.filter((take) => (clean(take)?.backedOff ?? 0) > 0);
  const gently = backed.length === 0 ? '' : ` ${names(backed)} more gently than asked, to spare the music.`;
  const all =
    wanted.length === used.length
      ? counted(used.length, 'take is', 'takes are')
      : `${wanted.length} of ${used.length} takes are`;
  return ['done', `${all} clean.${gently}`];
}

function intonationStep({ intonation, session }: StepsInput): Told {
  const report = intonation?.report ?? null;
  if (intonation?.state === 'faulty') return ['lookHere', 'The pitch could not be listened to. See why.'];
  if (session.takes.length === 0) return ['toDo', 'Partsong can listen to the pitch once there are takes.'];
  if (report === null) return ['toDo', 'Let Partsong listen to the pitch; you can go on without it.'];
  if (intonation?.state === 'stale') return ['toDo', 'Takes or places have changed since the pitch was listened to.'];
  if (report.intonation === null) return ['lookHere', 'No pitch could be measured. See why.'];
  const out = report.intonation.worstChords.filter(({ worst }) => Math.abs(worst.offCents) >= WARN_CENTS);
  const unheard = report.voices.filter(({ verdict }) => verdict.kind !== 'pitched' && verdict.kind !== 'unsure');
  const without = unheard.length === 0 ? '' : ` ${names(unheard)} could not be measured.`;
  // The first is the worst one, as the bench lists them: not always the one whose interval is off by most.
  const [worst] = out;
  if (worst !== undefined) {
    const cents = Math.abs(worst.worst.offCents).toFixed(0);
    return ['lookHere', `The worst chord is ${cents} cents out of tune. Listen to it.${without}`];
  }
  const { reference, chordsMeasured } = report.intonation;
  const a = `A is ${reference.hz.toFixed(1)} Hz`;
  return [
    'done',
    chordsMeasured === 0
      ? `${a}; no chords were measured.${without}`
      : `${a}; no chord is out of tune by ${WARN_CENTS} cents.${without}`,
  ];
}

function blendStep(input: StepsInput): Told {
  const { session, blend, takes } = input;
  if (session.voices.length === 0) return ['toDo', 'The voices are balanced once there are takes.'];
  if (blend === null) return ['toDo', 'The voices are balanced as soon as their takes are cleaned and lined up.'];
  const nameOf = new Map(session.voices.map((voice) => [voice.id, voice]));
  const named = (ids: readonly { readonly voiceId: string }[]) =>
    ids.flatMap(({ voiceId }) => nameOf.get(voiceId) ?? []);
  const out = named(blend.voices.filter((voice) => voice.leftOut));
  if (out.length > 0) {
    const left =
      out.length === 1 ? 'is left out of the mix, since its place' : 'are left out of the mix, since their place';
    return ['lookHere', `${names(out)} ${left} in time is not known.`];
  }
  const off = named(blend.voices.filter((voice) => voice.isOff));
  if (off.length > 0)
    return ['lookHere', `${names(off)} could not be brought to ${off.length === 1 ? 'its' : 'their'} level.`];
  const lost = session.voices.filter((voice) => heardTakes(session, voice).some((take) => isLost(takes[take.id])));
  if (lost.length > 0) {
    const are = lost.length === 1 ? 'is not in the mix: its clip' : 'are not in the mix: their clips';
    return ['lookHere', `${names(lost)} ${are} cannot be used.`];
  }
  const heard = session.voices.filter((voice) => heardTakes(session, voice).length > 0);
  if (blend.voices.length < heard.length) return ['toDo', 'Some voices are still being made ready.'];
  return ['done', 'All voices are at their level.'];
}

function pictureStep(input: StepsInput): Told {
  const { madePicture, session, takes } = input;
  const used = usable(input);
  if (used.length === 0) return ['toDo', 'The clips become tiles of a video once there are takes.'];
  if (used.some((take) => takes[take.id]?.state !== 'ready')) return ['toDo', 'The clips are being read.'];
  const filmed = used.filter((take) => takes[take.id]?.hasPicture === true);
  if (filmed.length === 0) return ['done', 'None of the clips was filmed, so there is no video to make.'];
  if (madePicture?.current === true) return ['done', 'The video is made.'];
  if (madePicture !== null)
    return ['toDo', 'The last video is from before your last changes, or made by an older Partsong.'];
  const what = session.picture === null ? 'Lay out the tiles and render the video' : 'The video can be rendered';
  return ['toDo', `${what}; you can go on without one.`];
}

function renderStep({ session, render, blend }: StepsInput): Told {
  if (render === null)
    return [
      'toDo',
      blend === null || session.voices.length === 0 ? 'The mix is made at the end.' : 'The mix can be made.',
    ];
  if (!render.current) return ['toDo', 'The last mix is from before your last changes, or made by an older Partsong.'];
  const { integratedLufs, targetLufs } = render;
  if (integratedLufs === null) return ['lookHere', 'The mix is silent.'];
  if (Math.abs(integratedLufs - targetLufs) > 0.1)
    return ['lookHere', 'The mix did not come to its target; its notes say why.'];
  return ['done', `The mix is made, at ${integratedLufs.toFixed(1).replace('-', '\u2212')} LUFS.`];
}
