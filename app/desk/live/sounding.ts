import type { Session, Take, Voice } from '../../../core/session/schema.ts';

/** The take a voice sounds with: the chosen one, else its only one; undefined when it has none. */
export function soundingTake(session: Session, voice: Voice): Take | undefined {
  const own = session.takes.filter((take) => take.voiceId === voice.id);
  return own.find((take) => take.id === voice.chosenTakeId) ?? (own.length === 1 ? own[0] : undefined);
}
