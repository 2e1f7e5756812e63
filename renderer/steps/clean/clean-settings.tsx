import type { CleanChoice, Take } from '../../../core/session/schema.ts';
import { edit, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { cleanAllEdit, type FineSettings, fineInForce, withFine } from './clean-edits.ts';
import './clean-settings.css';

const characterOptions = [
  { value: 'gentle', label: 'gentle', hint: 'Leaves a little more of the room and touches the tone least.' },
  { value: 'even', label: 'even', hint: 'Takes most of the noise; right for nearly every take.' },
  { value: 'firm', label: 'firm', hint: 'Takes the most; listen to soft notes and their ends.' },
] as const;

const ruleOptions = [
  {
    value: 'lsa',
    label: 'log-spectral amplitude',
    hint: 'Weighs differences as the ear does; smoothest, and used by itself.',
  },
  { value: 'wiener', label: 'Wiener', hint: 'Makes the error of the wave as small as can be; a little drier.' },
  {
    value: 'subtract',
    label: 'subtraction',
    hint: 'The oldest way: takes the learnt power away; most likely to twitter.',
  },
] as const;

/** How the take in hand is cleaned, and the same for all. */
export function CleanSettings({ take }: { readonly take: Take }) {
  const { session } = useView();
  const { clean } = take;
  const set = (next: CleanChoice, mergeKey: string | null = null): void =>
    edit({ kind: 'setClean', takeId: take.id, clean: next }, mergeKey);
  const all = cleanAllEdit(session, clean);
  return (
    <section className="clean-settings" aria-labelledby="clean-settings-title">
      <h3 id="clean-settings-title">How it is cleaned</h3>
      <label className="tick">
        <input type="checkbox" checked={clean.on} onChange={(event) => set({ ...clean, on: event.target.checked })} />
        Clean this take
      </label>
      <Choice
        label={<Explain word="character">Character</Explain>}
        layout="list"
        value={clean.character}
        options={characterOptions}
        disabled={!clean.on}
        onChange={(character) => set({ ...clean, character, fine: null })}
      />
      <Button
        disabled={all === undefined}
        onClick={() => all !== undefined && edit(all)}
        title="One step: undo takes it back for all takes together."
      >
        Clean all takes like this
      </Button>
      <details className="clean-settings-more" open={clean.fine !== null || undefined}>
        <summary>Fine settings{clean.fine === null ? '' : ' (moved)'}</summary>
        <FineSettingsPart take={take} onSet={set} />
      </details>
      <details className="clean-settings-more">
        <summary>For the curious</summary>
        <Choice
          label={<Explain word="gainRule">How music and noise are told apart</Explain>}
          layout="list"
          value={clean.rule}
          options={ruleOptions}
          disabled={!clean.on}
          onChange={(rule) => set({ ...clean, rule })}
        />
      </details>
    </section>
  );
}

interface FineProps {
  readonly take: Take;
  readonly onSet: (clean: CleanChoice, mergeKey: string | null) => void;
}

function FineSettingsPart({ take, onSet }: FineProps) {
  const { clean } = take;
  const fine = fineInForce(clean);
  const off = !clean.on;
  return (
    <GestureGroup className="clean-settings-fine">
      {(key) => {
        const move = (moved: Partial<FineSettings>): void =>
          onSet(withFine(clean, moved), key(`clean:${take.id}:${Object.keys(moved)[0]}`));
        return (
          <>
            <Slider
              label="Noise turned down by at most"
              word="reduction"
              value={fine.reductionDb}
              min={0}
              max={60}
              step={1}
              digits={0}
              unit="dB"
              disabled={off}
              onChange={(reductionDb) => move({ reductionDb })}
            />
            <Slider
              label="Steadiness"
              word="steadiness"
              value={fine.steadiness * 100}
              min={80}
              max={99}
              step={1}
              digits={0}
              unit="%"
              disabled={off}
              onChange={(percent) => move({ steadiness: Math.round(percent) / 100 })}
            />
            <Slider
              label="Noise counted as louder by"
              word="margin"
              value={fine.marginDb}
              min={-6}
              max={12}
              step={0.5}
              unit="dB"
              disabled={off}
              onChange={(marginDb) => move({ marginDb })}
            />
            <Slider
              label="Hum and whistles, louder still by"
              word="lineMargin"
              value={fine.lineMarginDb}
              min={0}
              max={20}
              step={0.5}
              unit="dB"
              disabled={off}
              onChange={(lineMarginDb) => move({ lineMarginDb })}
            />
            <label className="tick">
              <input
                type="checkbox"
                checked={fine.follow}
                disabled={off}
                onChange={(event) => move({ follow: event.target.checked })}
              />
              Follow noise that grows or fades
            </label>
            <label className="tick">
              <input
                type="checkbox"
                checked={fine.restoreClipped}
                disabled={off}
                onChange={(event) => move({ restoreClipped: event.target.checked })}
              />
              Redraw tops of waves that were cut off
            </label>
            <Button small disabled={clean.fine === null} onClick={() => onSet({ ...clean, fine: null }, null)}>
              Back to the character
            </Button>
          </>
        );
      }}
    </GestureGroup>
  );
}
