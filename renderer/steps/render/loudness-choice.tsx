import { edit, useView } from '../../desk/desk-store.ts';
import { Choice } from '../../parts/choice.tsx';
import { Slider } from '../../parts/slider.tsx';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { purposeOf, purposes } from './render-choices.ts';

/** How loud the mix is to be, and the true peak it never passes. */
export function LoudnessChoice() {
  const { targetLufs, ceilingDbtp } = useView().session.mix;
  const purpose = purposeOf(targetLufs, ceilingDbtp);
  const set = (target: number, ceiling: number, mergeKey: string | null): void =>
    edit({ kind: 'setTarget', targetLufs: target, ceilingDbtp: ceiling }, mergeKey);
  return (
    <section className="render-part" aria-labelledby="render-loudness">
      <h3 id="render-loudness">How loud</h3>
      <Choice
        layout="list"
        label="What the mix is for"
        hideLabel
        value={purpose?.name ?? 'own'}
        options={[
          ...purposes.map(({ name }) => ({ value: name, label: name })),
          { value: 'own', label: 'Numbers of your own, set below', disabled: purpose !== undefined },
        ]}
        onChange={(name) => {
          const chosen = purposes.find((one) => one.name === name);
          if (chosen !== undefined) set(chosen.targetLufs, chosen.ceilingDbtp, null);
        }}
      />
      <p className="small faint">
        {purpose?.why ?? 'Common practice for music on the web is −14 LUFS with a ceiling of −1 dBTP.'}
      </p>
      <GestureGroup className="render-sliders">
        {(key) => (
          <>
            <Slider
              label="Target"
              word="target"
              unit="LUFS"
              min={-40}
              max={-5}
              step={0.5}
              value={targetLufs}
              onChange={(value) => set(value, ceilingDbtp, key('target'))}
            />
            <Slider
              label="Ceiling"
              word="ceiling"
              unit="dBTP"
              min={-12}
              max={0}
              step={0.1}
              value={ceilingDbtp}
              onChange={(value) => set(targetLufs, value, key('ceiling'))}
            />
          </>
        )}
      </GestureGroup>
    </section>
  );
}
