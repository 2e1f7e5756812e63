import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { useView } from '../../desk/desk-store.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { type TakeOfVoice, takesInOrder } from '../drawing/take-at-hand.ts';
import { GlassRow } from './glass-row.tsx';

/** What a take can be held against: the guide, or another voice's take. */
export interface Other {
  readonly id: string;
  readonly name: string;
  readonly facts: TakeFacts;
  readonly of: TakeOfVoice | null;
}

/** What the take can be held against: the guide first, else the voices nearest in the score that sound, then all other takes. */
export function useOthers(takeId: string): Other[] {
  const { session, takes, guide } = useView();
  const all = takesInOrder(session);
  const at = all.findIndex((one) => one.take.id === takeId);
  const placed = all
    .map((of, n) => ({ of, away: Math.abs(n - at) + (of.sounds ? 0 : all.length) }))
    .filter(({ of }) => of.take.id !== takeId && of.take.placement !== null && takes[of.take.id]?.waves.before === true)
    .sort((a, b) => a.away - b.away)
    .map(({ of }): Other => ({ id: of.take.id, name: of.take.name, facts: takes[of.take.id]!, of }));
  return guide?.waves.before === true
    ? [{ id: 'guide', name: 'the guide', facts: guide, of: null }, ...placed]
    : placed;
}

interface HeldAgainstProps {
  readonly other: Other;
  readonly others: readonly Other[];
  readonly atSec: number;
  readonly halfSec: number;
  readonly width: number;
  readonly onChoose: (id: string) => void;
  readonly onLook: (sec: number) => void;
}

/** The upper sound, and the choice of it. */
export function HeldAgainst({ other, others, atSec, halfSec, width, onChoose, onLook }: HeldAgainstProps) {
  const { id, facts, of } = other;
  return (
    <GlassRow
      source={id}
      name={
        <select aria-label="Held against" value={id} onChange={(event) => onChoose(event.target.value)}>
          {others.map((one) => (
            <option key={one.id} value={one.id}>
              {one.name}
            </option>
          ))}
        </select>
      }
      lie={of?.take.placement ?? null}
      {...{ facts, atSec, halfSec, width }}
      colour={of === null ? 'var(--edge)' : voiceColour(of.voice.colour)}
      onClick={(bySec) => onLook(atSec + bySec)}
    />
  );
}
