import type { ClipPicture } from '../picture/clip-picture.ts';
import { pictureClock } from '../picture/picture-clock.ts';
import type { SessionSpan } from '../picture/picture-design.ts';
import type { VoicePicture, VoicePiece } from '../picture/picture-plan.ts';
import { withNudges } from '../pitch/mend.ts';
import { type Clock, clockOf } from '../signal/clock.ts';
import { soundingPassages, soundingTake } from './passages.ts';
import type { Session, Take, Voice } from './schema.ts';
import { clockOfClip } from './take-part.ts';

/** A voice that cannot be seen, and why, as the end of a sentence. */
export interface UnseenVoice {
  readonly voiceId: string;
  readonly name: string;
  readonly why: string;
}

export interface SessionPictures {
  /** In the session's order. */
  readonly voices: readonly VoicePicture[];
  readonly unseen: readonly UnseenVoice[];
}

/**
 * The voices of a session that are heard as a canvas needs them: the clips of the takes they sound with, cut where the sound is cut.
 * pictureOf: the moving picture of a take; null for sound alone. peaksOf: see VoicePicture. The desk renders and the screen
 * shows with this one rule.
 */
export function sessionPictures(
  session: Session,
  span: SessionSpan,
  pictureOf: (takeId: string) => ClipPicture | null,
  peaksOf: (voiceId: string) => readonly number[] = () => [],
): SessionPictures {
  const takes = new Map(session.takes.map((take) => [take.id, take]));
  const voices: VoicePicture[] = [];
  const unseen: UnseenVoice[] = [];
  const leadId = leadOf(session);
  for (const voice of session.voices) {
    const pieces = piecesOf(session, voice, takes, span, pictureOf);
    if (typeof pieces === 'string') {
      unseen.push({ voiceId: voice.id, name: voice.name, why: pieces });
      continue;
    }
    const { id: voiceId, name, colour } = voice;
    voices.push({ voiceId, name, colour, isLead: voiceId === leadId, pieces, peaks: peaksOf(voiceId) });
  }
  return { voices, unseen };
}

/** The voice that leads on the canvas: the one chosen for it, else the first that leads in the music, else the first. */
export function leadOf(session: Session): string | undefined {
  const { voices, picture } = session;
  const chosen = voices.find(({ id }) => id === picture?.leadVoiceId);
  return (chosen ?? voices.find(({ role }) => role === 'lead') ?? voices[0])?.id;
}

function piecesOf(
  session: Session,
  voice: Voice,
  takes: ReadonlyMap<string, Take>,
  span: SessionSpan,
  pictureOf: (takeId: string) => ClipPicture | null,
): VoicePiece[] | string {
  if (voice.muted) return 'it is muted';
  const passages = soundingPassages(voice);
  if (passages === null) {
    const take = soundingTake(session, voice);
    if (take === undefined) return 'none of its takes is chosen';
    if (take.placement === null) return 'nobody knows where its take lies in time';
    const picture = pictureOf(take.id);
    return [{ picture, place: picturePlace(take, take.placement, picture), ...span }];
  }
  return passages.map(({ takeId, fromSec, toSec }, index): VoicePiece => {
    const take = takes.get(takeId);
    const placement = take?.placement ?? null;
    const picture = placement === null ? null : pictureOf(takeId);
    return {
      picture,
      place: take === undefined || placement === null ? UNPLACED : picturePlace(take, placement, picture),
      // The outer passages are open.
      fromSec: index === 0 ? Math.min(fromSec, span.fromSec) : fromSec,
      toSec: index === passages.length - 1 ? Math.max(toSec, span.toSec) : toSec,
    };
  });
}

const UNPLACED: Clock = { offsetSec: 0, driftPpm: 0 };

/** Where the picture of a take lies: it knows the clip's time only, and that by its container's stamps. */
function picturePlace({ mend, part }: Take, placement: Clock, picture: ClipPicture | null): Clock {
  return pictureClock(clockOfClip(withNudges(clockOf(placement), mend), part), picture);
}
