import { useEffect, useId, useState } from 'react';
import type { GuideChoice } from '../../../app/shell/contract/guide-choice.ts';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { Slider } from '../../parts/slider.tsx';
import { choose, chooseSetting, useGuideDraft } from './guide-draft.ts';
import { readRests, restsInWords, tonicNames } from './guide-words.ts';

const temperaments: readonly { readonly value: GuideChoice['temperament']; readonly label: string }[] = [
  { value: 'equal', label: 'Equal' },
  { value: 'pythagorean', label: 'Pythagorean (pure fifths)' },
  { value: 'meanTone', label: 'Mean-tone (quarter comma)' },
  { value: 'just', label: 'Just, on the key note' },
];

/** How the music itself sounds: click, tuning of the notes, a held tone. */
export function SoundPart() {
  const { choice, score } = useGuideDraft();
  const { settings } = choice;
  return (
    <section className="guide-part" aria-labelledby="guide-sound">
      <h3 id="guide-sound">Click and pitch</h3>
      <Choice
        label="Click"
        value={settings.click}
        options={[
          { value: 'none', label: 'none' },
          { value: 'bars', label: 'bars' },
          { value: 'beats', label: 'beats' },
          { value: 'units', label: 'finer' },
        ]}
        onChange={(click) => chooseSetting({ click })}
      />
      <Slider
        label="Level of the click"
        unit="dB"
        min={-40}
        max={12}
        step={1}
        digits={0}
        value={choice.clickDb}
        onChange={(clickDb) => choose({ clickDb })}
      />
      <Rests />
      {(score !== null || choice.drone) && <Tuning />}
      <label className="tick">
        <input type="checkbox" checked={choice.drone} onChange={(event) => choose({ drone: event.target.checked })} />
        <span>A soft held key note under the music</span>
      </label>
    </section>
  );
}

function Tuning() {
  const { temperament, tonic } = useGuideDraft((state) => state.choice);
  return (
    <div className="guide-tuning">
      <Field label={<Explain word="temperament">Temperament</Explain>}>
        {(ids) => (
          <select
            {...ids}
            aria-label="Temperament"
            value={temperament}
            onChange={(event) => {
              const found = temperaments.find((one) => one.value === event.target.value);
              if (found !== undefined) choose({ temperament: found.value });
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
      <Field label="Key note">
        {(ids) => (
          <select {...ids} value={tonic} onChange={(event) => choose({ tonic: Number(event.target.value) })}>
            {tonicNames.map((name, at) => (
              <option key={name} value={at}>
                {name}
              </option>
            ))}
          </select>
        )}
      </Field>
    </div>
  );
}

/** Bars in which the click rests, typed as "9-16, 25". */
function Rests() {
  const rests = useGuideDraft((state) => state.choice.settings.restingBars);
  const id = useId();
  const shown = restsInWords(rests);
  const [typed, setTyped] = useState(shown);
  useEffect(() => setTyped(shown), [shown]);
  const read = readRests(typed);
  const take = (): void => {
    if (read !== null) chooseSetting({ restingBars: read });
  };
  return (
    <div className="field">
      <label className="field-label" htmlFor={id}>
        The click rests in bars
      </label>
      <input
        id={id}
        type="text"
        autoComplete="off"
        value={typed}
        placeholder="none"
        aria-invalid={read === null}
        aria-describedby={`${id}-hint`}
        onChange={(event) => setTyped(event.target.value)}
        onBlur={take}
        onKeyDown={(event) => {
          if (event.key === 'Enter') take();
          if (event.key === 'Escape') setTyped(shown);
        }}
      />
      <span id={`${id}-hint`} className={`small ${read === null ? 'wrong' : 'faint'}`}>
        {read === null
          ? 'Write bars as 9-16 or 25, with commas between.'
          : 'Such as 9–16, 25: where the beat may breathe.'}
      </span>
    </div>
  );
}
