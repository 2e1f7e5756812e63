import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { chooseSetting, useGuideDraft } from './guide-draft.ts';
import { GuideRow } from './guide-row.tsx';

/** What comes before the music, and after it. */
export function FramePart() {
  const { settings } = useGuideDraft((state) => state.choice);
  return (
    <section className="guide-part" aria-labelledby="guide-frame">
      <h3 id="guide-frame">Before the music, and after</h3>
      <GuideRow name={<Explain word="silence">Silence</Explain>}>
        <NumberField
          label="Silence"
          quiet
          value={settings.silenceSec}
          unit="s"
          lowest={0.5}
          highest={60}
          step={0.5}
          digits={1}
          onSet={(silenceSec) => chooseSetting({ silenceSec })}
        />
      </GuideRow>
      <GuideRow name={<Explain word="tuningTone">Tone to tune to</Explain>}>
        <NumberField
          label="Length of the tone to tune to"
          quiet
          value={settings.tuningSec}
          unit="s"
          lowest={0}
          highest={60}
          step={1}
          digits={1}
          onSet={(tuningSec) => chooseSetting({ tuningSec })}
        />
      </GuideRow>
      <GuideRow name={<Explain word="referencePitch">A sounds at</Explain>}>
        <NumberField
          label="Pitch of A"
          quiet
          value={settings.referenceHz}
          unit="Hz"
          lowest={415}
          highest={466}
          step={1}
          digits={1}
          onSet={(referenceHz) => chooseSetting({ referenceHz })}
        />
      </GuideRow>
      <Choice
        label={<Explain word="cue">Clap on the cue</Explain>}
        value={settings.cue}
        options={[
          { value: 'start', label: 'at the start' },
          { value: 'both', label: 'at start and end' },
        ]}
        onChange={(cue) => chooseSetting({ cue })}
      />
      <p className="small faint">
        {settings.cue === 'both'
          ? 'Two claps keep long takes together to the last bar.'
          : 'One clap is enough for pieces of a few minutes.'}
      </p>
      <GuideRow name="Count-in">
        <NumberField
          label="Count-in"
          quiet
          value={settings.countInBars}
          unit={settings.countInBars === 1 ? 'bar' : 'bars'}
          lowest={0}
          highest={8}
          step={1}
          digits={0}
          onSet={(bars) => chooseSetting({ countInBars: Math.round(bars) })}
        />
      </GuideRow>
    </section>
  );
}
