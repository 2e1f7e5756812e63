import { useState } from 'react';
import type { JoinView } from '../../app/shell/contract/desk-view.ts';
import { joinsOf, soundingTake } from '../../core/session/passages.ts';
import type { Voice } from '../../core/session/schema.ts';
import { edit, useDesk, useView } from '../desk/desk-store.ts';
import { momentInWords } from '../lanes/bar-map.ts';
import { Button } from '../parts/button.tsx';
import { Explain } from '../parts/explain.tsx';
import { change, clock, figure } from '../parts/numbers.ts';
import { hearJoin, joinAlong, kindWords, removeJoin } from './passage-edits.ts';
import './passages-part.css';

/** The passages a voice is made of: which take sounds until when, and its joins, to be heard, moved and taken away. */
export function PassagesPart({ voice }: { readonly voice: Voice }) {
  const { session } = useView();
  const plan = session.guide?.plan ?? null;
  const found = useDesk((state) => state.view?.blend?.voices.find((one) => one.voiceId === voice.id)?.joins);
  const { passages } = voice;
  if (passages === null) return null;
  const nameOf = (takeId: string): string => session.takes.find((take) => take.id === takeId)?.name ?? 'a take';
  const joins = joinsOf(passages);
  const alone = soundingTake(session, voice)?.name ?? 'one take';
  return (
    <section className="passages" aria-label={`Passages of ${voice.name}`}>
      <h3 className="passages-title">
        <Explain word="passage">Passages</Explain>
      </h3>
      <ol className="passages-list">
        <li className="passages-take">{nameOf(passages[0]!.takeId)} from the beginning</li>
        {joins.map((join, index) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: a join that is moved stays the same one, and keeps the focus.
          <li key={index}>
            <JoinLine
              voice={voice}
              index={index}
              atSec={join.atSec}
              match={found?.find((one) => one.atSec === join.atSec)}
            />
            <div className="passages-take">
              {nameOf(join.rightTakeId)} from {momentInWords(plan, join.atSec)}
            </div>
          </li>
        ))}
      </ol>
      <Button
        small
        aria-label={`Use ${alone} alone for ${voice.name}`}
        onClick={() => edit({ kind: 'setPassages', voiceId: voice.id, passages: null })}
      >
        Use {alone} alone
      </Button>
    </section>
  );
}

interface JoinLineProps {
  readonly voice: Voice;
  readonly index: number;
  readonly atSec: number;
  readonly match: JoinView | undefined;
}

function JoinLine({ voice, index, atSec, match }: JoinLineProps) {
  const [busy, setBusy] = useState(false);
  const which = `join ${index + 1} of ${voice.name}, at ${clock(atSec, 2)}`;
  const move = (sense: -1 | 1): void => {
    // Not disabled meanwhile: a button that is pressed again and again must keep the keyboard's place.
    if (busy) return;
    setBusy(true);
    void joinAlong(voice.id, index, sense).finally(() => setBusy(false));
  };
  return (
    <div className="passages-join">
      <span className="passages-sign" aria-hidden="true">
        <svg viewBox="0 0 22 8" width="22" height="8" aria-hidden="true">
          <path d="M1 7C6 0 16 0 21 7" />
        </svg>
      </span>
      <span className="passages-match faint">
        {match === undefined
          ? 'The join is being made …'
          : `${kindWords[match.kind]}, fade ${figure(1000 * match.fadeSec, 0)} ms, level matched by ${change(match.stepDb)} dB, tone by ${change(match.tiltDb)} dB`}
      </span>
      <Button
        small
        aria-label={`Hear it: ${which}`}
        title="From 2 s before it to 2 s after"
        onClick={() => hearJoin(atSec)}
      >
        Hear it
      </Button>
      <Button
        small
        kind="quiet"
        aria-disabled={busy}
        aria-label={`Move ${which}, earlier`}
        title="To the rest or note before"
        onClick={() => move(-1)}
      >
        ← earlier
      </Button>
      <Button
        small
        kind="quiet"
        aria-disabled={busy}
        aria-label={`Move ${which}, later`}
        title="To the rest or note after"
        onClick={() => move(1)}
      >
        later →
      </Button>
      <Button
        small
        kind="quiet"
        aria-label={`Remove ${which}`}
        title="The take before it goes on"
        onClick={() => removeJoin(voice.id, index)}
      >
        Remove
      </Button>
    </div>
  );
}
