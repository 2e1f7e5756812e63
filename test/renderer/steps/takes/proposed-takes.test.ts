import { describe, expect, it } from 'vitest';
import type { TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import { apply } from '../../../../core/session/edit.ts';
import type { Session } from '../../../../core/session/schema.ts';
import { proposedChoices, proposedEdit } from '../../../../renderer/steps/takes/proposed-takes.ts';
import { benchSession } from '../bench-session.ts';

/** Four voices, each with a noisy take that sounds and a quiet one, but the last, which sounds with its quiet one. */
function fourVoices(): { session: Session; facts: Record<string, TakeFacts> } {
  const plain = benchSession(4);
  const more = plain.takes.map((take) => ({ ...take, id: `${take.id}-quiet`, name: `${take.name} quiet` }));
  const last = plain.voices.at(-1)!;
  const voices = plain.voices.map((voice) => {
    const own = plain.takes.find(({ voiceId }) => voiceId === voice.id)!.id;
    return { ...voice, chosenTakeId: voice === last ? `${own}-quiet` : own };
  });
  const session: Session = { ...plain, voices, takes: [...plain.takes, ...more] };
  const facts = Object.fromEntries(
    session.takes.map(({ id }) => [
      id,
      {
        state: 'ready',
        clipped: [],
        clean: { state: 'ready', noise: { levelDbfs: id.endsWith('quiet') ? -70 : -40 } },
        music: { fromSec: 5, toSec: 60 },
        played: null,
        integratedLufs: -20,
      } as unknown as TakeFacts,
    ]),
  );
  return { session, facts };
}

describe('all proposed takes at once', () => {
  it('are chosen for the voices that sound with another one, in one edit, after which nothing is left to choose', () => {
    const { session, facts } = fourVoices();
    const choices = proposedChoices(session, facts);
    expect(choices.map(({ voiceId }) => voiceId)).toEqual(session.voices.slice(0, 3).map(({ id }) => id));
    const after = apply(session, proposedEdit(choices));
    expect(after.voices.map(({ chosenTakeId }) => chosenTakeId!.endsWith('quiet'))).toEqual([true, true, true, true]);
    expect(proposedChoices(after, facts)).toEqual([]);
  });

  it('leave a voice alone that is made of passages, and one whose take the player ruled out', () => {
    const { session, facts } = fourVoices();
    const [first, second] = session.voices;
    const passages = [{ takeId: first!.chosenTakeId!, fromSec: 0 }] as unknown as (typeof first & {})['passages'];
    const changed: Session = {
      ...session,
      voices: session.voices.map((voice) => (voice.id === first!.id ? { ...voice, passages } : voice)),
      takes: session.takes.map((take) =>
        take.voiceId === second!.id && take.id.endsWith('quiet') ? { ...take, mark: 'no' as const } : take,
      ),
    };
    expect(proposedChoices(changed, facts).map(({ voiceId }) => voiceId)).toEqual([session.voices[2]!.id]);
  });
});
