import { useView } from '../../desk/desk-store.ts';
import { Explain } from '../../parts/explain.tsx';
import { Figure } from '../../parts/figure.tsx';
import { LiveSpectrum } from './live-spectrum.tsx';
import { LoudnessStaff } from './loudness-staff.tsx';
import './master.css';

/** The whole mix: what brings it to its target, its loudness as it plays, and its spectrum. */
export function Master() {
  const { blend, session } = useView();
  const master = blend?.master ?? null;
  return (
    <section className="master" aria-labelledby="master-title">
      <h3 id="master-title">The mix</h3>
      <p className="master-aim">
        {master === null ? (
          'Its gain is found when all voices are ready.'
        ) : (
          <>
            <Explain word="masterGain">Gain at the end</Explain> <Figure value={master.gainDb} unit="dB" isChange />, to
            reach <Figure value={session.mix.targetLufs} unit="LUFS" word="target" />.
          </>
        )}{' '}
        {blend?.measuring === true ? <span role="status">It is being measured anew.</span> : null}
      </p>
      <LoudnessStaff targetLufs={session.mix.targetLufs} />
      <LiveSpectrum />
    </section>
  );
}
