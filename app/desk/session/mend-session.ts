import type { Nudge } from '../../../core/pitch/mend.ts';
import { mendsAnything } from '../../../core/pitch/mend.ts';
import { mendForOffset, mendForSink, type PitchFinding } from '../../../core/pitch/mend-wishes.ts';
import { soundingPassages, takeAt } from '../../../core/session/passages.ts';
import type { Mend, Session, Take } from '../../../core/session/schema.ts';
import type { TuneFindings } from '../../../core/session/tune-report.ts';
import { clockOf } from '../../../core/signal/clock.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { keptTuning } from '../kept-tuning.ts';
import { type PitchStand, standOf } from '../mend-clip.ts';
import { mendNotes } from '../mend-taken.ts';
import type { Draft } from './draft.ts';
import { takeNamed } from './named.ts';
import { readyTakes, soundingTakes } from './ready-takes.ts';
import { type Running, withSession } from './session-work.ts';
import { type HeardSession, heardVoices, hearSession } from './tune-session.ts';

export interface MendSessionOptions extends Running {
  readonly session: string;
  /** Names of takes; none: all that sound, of which is only told what could be mended. */
  readonly takes: readonly string[];
  /** The whole take; 'auto' brings the middle of its notes to the reference. */
  readonly cents?: number | 'auto' | undefined;
  /** In the take's own time. */
  readonly nudges: readonly Nudge[];
  readonly againstSink: boolean;
  /** Nothing is mended any more. */
  readonly none: boolean;
  readonly score?: string | undefined;
  /** A4, Hz; absent: the ensemble's own. */
  readonly referenceHz?: number | undefined;
}

/** A take of a session, and what was or could be mended in it. */
export interface MendedInSession {
  readonly take: string;
  readonly voice: string;
  readonly before: PitchStand | null;
  /** As reckoned from its notes, with what is mended now; null where nothing was changed. */
  readonly after: PitchStand | null;
  readonly proposed: { readonly cents: number; readonly curve: Mend['curve'] } | null;
  /** What is mended in it now; null for nothing. */
  readonly mend: Mend | null;
  readonly notes: readonly string[];
}

export interface MendOfSession {
  readonly takes: readonly MendedInSession[];
  readonly notes: readonly string[];
}

/** Its notes and how they stand. */
interface Stand {
  readonly notes: readonly PitchFinding[];
  readonly stand: PitchStand | null;
}

/**
 * Says what could be mended in the takes that a session sounds with, or mends those that are named as it is said; what of a take's
 * mend is not named stays. Nothing is mended by itself. Throws PartsongError or CancelledError; the session is then as it was.
 */
export async function mendSession(options: MendSessionOptions): Promise<MendOfSession> {
  const isWished = options.cents !== undefined || options.nudges.length > 0 || options.againstSink || options.none;
  refuseWishes(options, isWished);
  const { value, notes } = await withSession(options.session, async (draft) => {
    const heard = await hearSession(draft, options.score, options);
    const sounding = soundingTakes(draft.session);
    const takes = options.takes.length === 0 ? sounding : options.takes.map((name) => takeNamed(draft.session, name));
    for (const take of takes) if (!sounding.some(({ id }) => id === take.id)) throw notSounding(take);
    const before = await findingsOf(draft, heard, options);
    const stands = takes.map((take) => standIn(draft.session, take, before));
    const told = takes.map((take, index) => toldOf(draft.session, take, stands[index]!));
    if (!isWished) return told;
    takes.forEach((take, index) => {
      const mend = wishedMend(take, told[index]!, options);
      draft.decide({ kind: 'setMend', takeId: take.id, mend: mendsAnything(mend) ? mend : null });
    });
    const after = await findingsOf(draft, heard, options);
    const now = draft.session.takes.filter(({ id }) => takes.some((take) => take.id === id));
    const ready = await readyTakes(draft.session, now, heard.read, draft.desk, options);
    return takes.map((take, index): MendedInSession => {
      const { mended } = ready.get(take.id)!;
      const changed = now.find(({ id }) => id === take.id)!;
      return {
        ...told[index]!,
        after: standIn(draft.session, changed, after).stand,
        mend: changed.mend,
        notes: mended === undefined ? ['Nothing is mended in it.'] : mendNotes(mended.mend, mended.result),
      };
    });
  });
  return { takes: value, notes };
}

async function findingsOf(draft: Draft, heard: HeardSession, options: MendSessionOptions): Promise<TuneFindings> {
  const { piece } = heard;
  const against = {
    ...piece,
    guideReferenceHz: piece.referenceHz,
    referenceHz: options.referenceHz ?? null,
    temperament: 'equal',
    tonic: 0,
  } as const;
  const { cache, pool } = draft.desk;
  const voices = await heardVoices(draft, heard, options);
  return (await keptTuning(voices, against, cache, pool, { signal: options.signal })).value;
}

/** The notes of a take among those of its voice: where that is made of passages, those that sound of it. */
function standIn(session: Session, take: Take, { intonation }: TuneFindings): Stand {
  const voice = session.voices.find(({ id }) => id === take.voiceId)!;
  const all = intonation?.voices.find(({ id }) => id === voice.id)?.notes ?? [];
  const passages = soundingPassages(voice);
  const notes =
    passages === null ? all : all.filter(({ fromSec, toSec }) => takeAt(passages, (fromSec + toSec) / 2) === take.id);
  return { notes, stand: intonation === null ? null : standOf(notes, intonation.reference.hz) };
}

function toldOf(session: Session, take: Take, { notes, stand }: Stand): MendedInSession {
  const place = { clock: clockOf(take.placement!), mend: take.mend };
  return {
    take: take.name,
    voice: session.voices.find(({ id }) => id === take.voiceId)!.name,
    before: stand,
    after: null,
    proposed: stand === null ? null : { cents: mendForOffset(notes, place), curve: [...mendForSink(notes, place)] },
    mend: take.mend,
    notes: [],
  };
}

function wishedMend(take: Take, { proposed }: MendedInSession, options: MendSessionOptions): Mend {
  const { cents, nudges, againstSink, none } = options;
  const now: Mend = none || take.mend === null ? { cents: 0, curve: [], nudges: [] } : take.mend;
  if (none) return now;
  if ((cents === 'auto' || againstSink) && proposed === null) {
    const next = 'Give the cents yourself with --cents N, or leave this take as it is.';
    throw new PartsongError('bad-option', `No pitch was found in ${take.name}, so none can be mended by it.`, next);
  }
  return {
    cents: cents === undefined ? now.cents : cents === 'auto' ? proposed!.cents : cents,
    curve: againstSink ? [...proposed!.curve] : now.curve,
    nudges: nudges.length > 0 ? [...nudges] : now.nudges,
  };
}

function refuseWishes({ takes, none, cents, nudges, againstSink }: MendSessionOptions, isWished: boolean): void {
  const bad = (message: string, nextStep: string): PartsongError => new PartsongError('bad-option', message, nextStep);
  if (isWished && takes.length === 0) {
    throw bad('Nothing tells which take is to be mended.', 'Name it with --take, once for each.');
  }
  if (none && (cents !== undefined || nudges.length > 0 || againstSink)) {
    throw bad('--none goes with nothing else.', 'Say either what is to be mended, or --none.');
  }
  if (nudges.some((one, n) => n > 0 && one.fromSec < nudges[n - 1]!.toSec)) {
    throw bad('Two stretches that are to be moved overlap.', 'Give stretches that lie apart.');
  }
}

function notSounding({ name }: Take): PartsongError {
  return new PartsongError(
    'bad-option',
    `${name} is not heard now, so nothing can be said of how it is in tune.`,
    'Choose it first: partsong takes SESSION --choose TAKE.',
  );
}
