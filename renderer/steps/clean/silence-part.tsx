import type { SpanView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Span, Take } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { clock } from '../../parts/numbers.ts';
import { NumberField } from '../drawing/number-field.tsx';
import { spanInTake } from '../drawing/take-time.ts';
import { noSilenceWords, sureWords } from './verdicts.ts';
import './silence-part.css';

const SHORTEST_SEC = 0.4;

/** The stretch in which the room is heard alone: found or chosen, how sure, and what can be chosen instead. */
export function SilencePart({ take, facts }: { readonly take: Take; readonly facts: TakeFacts }) {
  const stretch = useBench((state) => state.stretch);
  const { silence, silenceConfidence, unfit } = facts.clean;
  const span: SpanView | null = take.silence ?? silence;
  const ofThis = stretch === null || stretch.takeId === null || stretch.takeId === take.id ? stretch : null;
  const selected = ofThis === null ? null : spanInTake(ofThis, take.placement, facts.lengthSec);
  const choose = (chosen: Span | null): void => edit({ kind: 'setSilence', takeId: take.id, silence: chosen }, null);
  const tooShort = selected !== null && selected.toSec - selected.fromSec < SHORTEST_SEC;
  return (
    <section className="silence-part" aria-labelledby="silence-part-title">
      <h3 id="silence-part-title">
        <Explain word="silence">The room alone</Explain>
      </h3>
      {span === null ? (
        <p>{noSilenceWords(facts.clean)}</p>
      ) : (
        <div className="silence-part-span">
          <NumberField
            label="from"
            unit=""
            value={span.fromSec}
            digits={2}
            step={0.05}
            lowest={0}
            highest={span.toSec - SHORTEST_SEC}
            onSet={(fromSec) => choose({ fromSec, toSec: span.toSec })}
          />
          <NumberField
            label="to"
            unit="s"
            value={span.toSec}
            digits={2}
            step={0.05}
            lowest={span.fromSec + SHORTEST_SEC}
            highest={facts.lengthSec}
            onSet={(toSec) => choose({ fromSec: span.fromSec, toSec })}
          />
        </div>
      )}
      {span === null ? null : <p>{whereFrom(take, facts, silenceConfidence)}</p>}
      {span !== null && unfit !== null ? <p className="silence-part-unfit">{unfit}</p> : null}
      <div className="silence-part-ways">
        <Button small disabled={selected === null || tooShort} onClick={() => selected !== null && choose(selected)}>
          Use the selected stretch
        </Button>
        <Button small disabled={take.silence === null} onClick={() => choose(null)}>
          Search again
        </Button>
      </div>
      <p className="silence-part-hint">{selectedWords(selected, tooShort, stretch !== null && ofThis === null)}</p>
      <Candidates take={take} silences={facts.silences} span={span} onChoose={choose} />
    </section>
  );
}

const howWords = {
  found: 'Found by itself',
  given: 'Chosen by you',
  guide: 'Found where the guide has it',
  clip: 'Found elsewhere in the clip, since this part of it has none',
} as const;

function whereFrom(take: Take, facts: TakeFacts, confidence: number | null): string {
  if (take.silence !== null) return 'Chosen by you.';
  const how = howWords[facts.clean.silence?.how ?? 'found'];
  const sure = sureWords(confidence);
  return sure === '' ? `${how}.` : `${how}; ${sure} (${Math.round((confidence ?? 0) * 100)} %).`;
}

function selectedWords(selected: SpanView | null, tooShort: boolean, isElsewhere: boolean): string {
  if (isElsewhere) return 'The stretch is selected in another take.';
  if (selected === null) return 'Select a stretch in the lane above to use it.';
  const words = `Selected: ${clock(selected.fromSec, 2)} to ${clock(selected.toSec, 2)}`;
  return tooShort ? `${words}; a silence takes at least ${SHORTEST_SEC} s.` : `${words}.`;
}

interface CandidatesProps {
  readonly take: Take;
  readonly silences: readonly SpanView[];
  readonly span: SpanView | null;
  readonly onChoose: (span: Span) => void;
}

/** Other silences that were found. */
function Candidates({ silences, span, onChoose }: CandidatesProps) {
  if (silences.length === 0) return null;
  return (
    <div className="silence-part-found">
      <span id="silence-part-found">Found:</span>
      <ul aria-labelledby="silence-part-found">
        {silences.slice(0, 6).map((one) => {
          const inUse =
            span !== null && Math.abs(one.fromSec - span.fromSec) < 0.005 && Math.abs(one.toSec - span.toSec) < 0.005;
          return (
            <li key={one.fromSec}>
              <Button
                small
                aria-pressed={inUse}
                onClick={() => !inUse && onChoose({ fromSec: one.fromSec, toSec: one.toSec })}
              >
                {clock(one.fromSec)}–{clock(one.toSec)}
              </Button>
            </li>
          );
        })}
      </ul>
    </div>
  );
}
