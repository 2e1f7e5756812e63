import { useState } from 'react';
import type { IntonationChoice } from '../../../app/shell/contract/intonation-view.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { Progress } from '../../parts/progress.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { tonicNames } from '../guide/guide-words.ts';
import { useIntonation } from './intonation-store.ts';

const temperaments: readonly { readonly value: IntonationChoice['temperament']; readonly label: string }[] = [
  { value: 'equal', label: 'Equal' },
  { value: 'pythagorean', label: 'Pythagorean (pure fifths)' },
  { value: 'meanTone', label: 'Mean-tone (quarter comma)' },
  { value: 'just', label: 'Just, on the key note' },
];

const usual: IntonationChoice = { referenceHz: null, temperament: 'equal', tonic: 0 };
const LOWEST_HZ = 380;
const HIGHEST_HZ = 500;

/** What notes are held against, and the button that has the pitch listened to. */
export function ListenPart() {
  const { intonation, session, steps, jobs } = useView();
  const report = intonation?.report ?? null;
  const [choice, setChoice] = useState<IntonationChoice>(report?.choice ?? usual);
  const working = jobs.find((job) => job.kind === 'pitch');
  const isEarly = steps.takes.busy || steps.lineUp.busy;
  const isListening = intonation?.state === 'working';
  return (
    <section className="intonation-listen" aria-label="What notes are held against">
      <div className="intonation-choices">
        <Choice
          label={<Explain word="referencePitch">Reference</Explain>}
          value={choice.referenceHz === null ? 'own' : 'given'}
          options={[
            { value: 'own', label: 'your own' },
            { value: 'given', label: 'a given A' },
          ]}
          onChange={(which) =>
            setChoice({ ...choice, referenceHz: which === 'own' ? null : (report?.guideReferenceHz ?? 440) })
          }
        />
        {choice.referenceHz !== null && (
          <NumberField
            label="A"
            unit="Hz"
            value={choice.referenceHz}
            lowest={LOWEST_HZ}
            highest={HIGHEST_HZ}
            step={1}
            digits={1}
            onSet={(referenceHz) => setChoice({ ...choice, referenceHz })}
          />
        )}
        <Tuning choice={choice} onChange={setChoice} />
        <Button
          kind={report === null || intonation?.state === 'stale' ? 'main' : 'plain'}
          disabled={isListening || isEarly || session.takes.length === 0}
          onClick={() => {
            // What was in hand belongs to another session.
            if (report === null) useIntonation.setState({ part: 'together', note: null, chord: 0 });
            void ask((bridge) => bridge.calls.listenToPitch(choice));
          }}
        >
          {report === null ? 'Listen to the pitch' : 'Listen to the pitch again'}
        </Button>
      </div>
      {isEarly && <p className="small faint">The takes are still being read or lined up; it can be asked for then.</p>}
      <div role="status">
        {working !== undefined && (
          <Progress
            title={working.title}
            fraction={working.fraction}
            leftSec={working.leftSec}
            onStop={() => void ask((bridge) => bridge.calls.stopJob({ jobId: working.id }))}
          />
        )}
      </div>
    </section>
  );
}

interface TuningProps {
  readonly choice: IntonationChoice;
  readonly onChange: (choice: IntonationChoice) => void;
}

function Tuning({ choice, onChange }: TuningProps) {
  return (
    <>
      <Field label={<Explain word="temperament">Temperament</Explain>}>
        {(ids) => (
          <select
            {...ids}
            aria-label="Temperament"
            value={choice.temperament}
            onChange={(event) => {
              const found = temperaments.find((one) => one.value === event.target.value);
              if (found !== undefined) onChange({ ...choice, temperament: found.value });
            }}
          >
            {temperaments.map(({ value, label }) => (
              <option key={value} value={value}>
                {label}
              </option>
            ))}
          </select>
        )}
      </Field>
      {choice.temperament !== 'equal' && (
        <Field label="Key note">
          {(ids) => (
            <select
              {...ids}
              value={choice.tonic}
              onChange={(event) => onChange({ ...choice, tonic: Number(event.target.value) })}
            >
              {tonicNames.map((name, at) => (
                <option key={name} value={at}>
                  {name}
                </option>
              ))}
            </select>
          )}
        </Field>
      )}
    </>
  );
}
