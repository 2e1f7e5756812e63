import { useEffect, useRef } from 'react';
import { takeInHand } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { voiceColour } from '../../parts/voice-colours.ts';
import { stepTake, takesInOrder } from '../drawing/take-at-hand.ts';
import { MoodMark } from './mood-mark.tsx';
import { cleanStateWords } from './verdicts.ts';
import './take-rail.css';

/** All takes with what the cleaning says of each; one is in hand. */
export function TakeRail({ takeId }: { readonly takeId: string }) {
  const { session, takes } = useView();
  const all = takesInOrder(session);
  const at = all.findIndex((one) => one.take.id === takeId);
  const current = useRef<HTMLButtonElement>(null);
  const list = useRef<HTMLUListElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another take in hand is what has to be brought into sight
  useEffect(() => {
    const take = current.current;
    const box = list.current;
    if (take === null || box === null) return;
    // Only the list may move, never what lies around it.
    const top = take.offsetTop - box.offsetTop;
    if (top < box.scrollTop) box.scrollTop = top;
    else if (top + take.offsetHeight > box.scrollTop + box.clientHeight) {
      box.scrollTop = top + take.offsetHeight - box.clientHeight;
    }
  }, [takeId]);
  return (
    <nav className="take-rail" aria-label="Takes">
      <div className="take-rail-steps">
        <Button small disabled={at <= 0} onClick={() => stepTake(session, takeId, -1)}>
          Previous
        </Button>
        <Button small disabled={at >= all.length - 1} onClick={() => stepTake(session, takeId, 1)}>
          Next take
        </Button>
      </div>
      <ul ref={list}>
        {all.map(({ take, voice, sounds }) => {
          const facts = takes[take.id];
          const state =
            facts === undefined ? { words: 'waiting', mood: 'wait' as const } : cleanStateWords(facts.clean);
          const inHand = take.id === takeId;
          return (
            <li key={take.id}>
              <button
                ref={inHand ? current : undefined}
                type="button"
                className="take-rail-take"
                aria-current={inHand ? 'true' : undefined}
                style={{ borderLeftColor: voiceColour(voice.colour) }}
                onClick={() => takeInHand(voice.id, take.id)}
              >
                <span className="take-rail-name">{take.name}</span>
                <span className="take-rail-state">
                  <MoodMark mood={state.mood} /> {state.words}
                  {sounds ? '' : ', not in the mix'}
                </span>
              </button>
            </li>
          );
        })}
      </ul>
    </nav>
  );
}
