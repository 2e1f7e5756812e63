import { basename } from 'node:path';
import { heardTakes } from '../../../core/session/passages.ts';
import type { Tuning } from '../../../core/session/score-notes.ts';
import { withTakesApart } from '../../../core/session/takes-apart.ts';
import type { TrackedVoice } from '../../../core/session/tune-report.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { keptGuideFile } from '../guide-file.ts';
import { keptTuning } from '../kept-tuning.ts';
import { placementReport } from '../placement.ts';
import { trackedVoices, voicesAtHand } from '../session-pitch.ts';
import { type Piece, pieceOf, type TuneReport } from '../tune-clips.ts';
import type { Draft } from './draft.ts';
import { placeTakes } from './place-takes.ts';
import { readTakes, type TakesRead } from './read-takes.ts';
import { soundingTakes } from './ready-takes.ts';
import { type Running, runs, withSession } from './session-work.ts';

export interface TuneSessionOptions extends Tuning, Running {
  readonly session: string;
  /** MIDI or MusicXML; absent: the score of the session's guide, else the keys of the temperament. */
  readonly score?: string | undefined;
  /** A4, Hz; null for the ensemble's own. */
  readonly referenceHz: number | null;
}

/** The takes that a session sounds with, read and placed, and what they are held against. */
export interface HeardSession {
  readonly read: TakesRead;
  readonly piece: Piece;
}

/** Reads and places what a session sounds with. Throws PartsongError 'bad-option' where that is nothing. */
export async function hearSession(draft: Draft, score: string | undefined, running: Running): Promise<HeardSession> {
  const { desk, session } = draft;
  const file = session.guide === null ? undefined : await keptGuideFile(desk.folder, session.guide.clip.fingerprint);
  const piece = await pieceOf(score, file);
  const takes = soundingTakes(session);
  if (takes.length === 0) {
    const message = `The session ${session.title} has no voice with a take that is chosen.`;
    throw new PartsongError('bad-option', message, 'Choose one with "partsong takes SESSION --choose TAKE".');
  }
  const read = await readTakes(takes, desk, running);
  await placeTakes(draft, read, running);
  return { read, piece };
}

/** Follows the pitch of what a draft sounds with, its mends and passages reckoned in. What was followed before costs nothing. */
export function heardVoices(draft: Draft, { read }: HeardSession, running: Running): Promise<TrackedVoice[]> {
  const { cache, pool } = draft.desk;
  const voices = voicesAtHand(draft.session, (takeId) => read.get(takeId));
  return trackedVoices(voices, cache, pool, runs(running, 'Following the pitch'));
}

/** How a session is in tune and in time as it stands, with what is mended and joined in it. Throws PartsongError or CancelledError. */
export async function tuneSession(options: TuneSessionOptions): Promise<TuneReport> {
  const { value, notes } = await withSession(options.session, async (draft) => {
    const heard = await hearSession(draft, options.score, options);
    const { score, plan, referenceHz: guideReferenceHz } = heard.piece;
    const { session, desk } = draft;
    const voices = await heardVoices(draft, heard, options);
    const against = { ...options, score, plan, guideReferenceHz };
    const { value: findings } = await keptTuning(voices, against, desk.cache, desk.pool, { signal: options.signal });
    const takes = session.voices.flatMap((voice) =>
      heardTakes(session, voice).map(({ clip, placement }) => ({
        file: basename(clip.path),
        voice: voice.name,
        placement: placement === null ? null : placementReport(placement),
        notes: [],
      })),
    );
    const intonation = findings.intonation && withTakesApart(findings.intonation, session);
    return { ...findings, intonation, takes, guideReferenceHz: heard.piece.referenceHz };
  });
  return { ...value, notes: [...notes, ...value.notes] };
}
