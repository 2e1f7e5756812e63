import { heardTakes } from '../../../core/session/passages.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { takeInHand, useBench } from '../../desk/bench-store.ts';
import { useDesk } from '../../desk/desk-store.ts';

/** A take with its voice. */
export interface TakeOfVoice {
  readonly take: Take;
  readonly voice: Voice;
  /** The voice sounds with it, or with passages of it. */
  readonly sounds: boolean;
}

/** All takes in the order of the score. */
export function takesInOrder(session: Session): TakeOfVoice[] {
  return session.voices.flatMap((voice) => {
    const heard = heardTakes(session, voice);
    return session.takes
      .filter((take) => take.voiceId === voice.id)
      .map((take) => ({ take, voice, sounds: heard.includes(take) }));
  });
}

/** The take in hand: the one chosen, else the first that sounds, else the first; undefined where there is none. */
export function takeAtHand(session: Session, takeId: string | null): TakeOfVoice | undefined {
  const all = takesInOrder(session);
  return all.find((one) => one.take.id === takeId) ?? all.find((one) => one.sounds) ?? all[0];
}

/** The take in hand of the open session. */
export function useTakeAtHand(): TakeOfVoice | undefined {
  const takeId = useBench((state) => state.takeId);
  const session = useDesk((state) => state.view?.session);
  return session === undefined ? undefined : takeAtHand(session, takeId);
}

/** Takes the next (1) or the one before (-1) to hand; stays at the ends. */
export function stepTake(session: Session, from: string, by: 1 | -1): void {
  const all = takesInOrder(session);
  const to = all[all.findIndex((one) => one.take.id === from) + by];
  if (to !== undefined) takeInHand(to.voice.id, to.take.id);
}
