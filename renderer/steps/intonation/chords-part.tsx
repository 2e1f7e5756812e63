import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { Chord } from '../../../core/pitch/chords.ts';
import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { chordStretch, chordWords, exactCents, isOut, whereWords } from './intonation-words.ts';

interface ChordsPartProps {
  readonly intonation: IntonationReport;
  readonly plan: KeptPlan | null;
}

/** The chords that are most out of tune, each to be heard. */
export function ChordsPart({ intonation, plan }: ChordsPartProps) {
  const { worstChords, chordsMeasured } = intonation;
  return (
    <section className="intonation-part" aria-labelledby="intonation-chords">
      <h3 id="intonation-chords">
        <Explain word="chordTuning">The worst chords</Explain>
      </h3>
      <p className="small faint">{countWords(worstChords.length, chordsMeasured)}</p>
      <ol className="intonation-chords">
        {worstChords.map((chord) => (
          <ChordRow key={`${chord.fromSec} ${chord.worst.lowVoiceId}`} chord={chord} plan={plan} />
        ))}
      </ol>
    </section>
  );
}

function countWords(shown: number, measured: number): string {
  if (measured === 0) return 'No chords were measured: no two voices with a known place hold notes together.';
  if (shown === 0) return `All ${measured} chords are in tune as far as it can be told.`;
  return `Of ${measured} chords; anything between the equal and the pure size counts as in tune.`;
}

function ChordRow({ chord, plan }: { readonly chord: Chord; readonly plan: KeptPlan | null }) {
  const where = whereWords(plan, chord);
  const { worst, uncertaintyCents } = chord;
  return (
    <li className="intonation-chord">
      <StateSign state={isOut(chord) ? 'lookHere' : 'done'} />
      <div>
        <p>
          <strong className="intonation-where">{where}</strong> {chordWords(chord)}
          {!isOut(chord) && <span className="faint"> Below {WARN_CENTS} cents few will mind.</span>}
        </p>
        <p className="small faint">
          It sounds {figure(worst.soundingCents, 0)} cents wide ({exactCents(uncertaintyCents)}); equal{' '}
          {figure(worst.equalCents, 0)}, pure {figure(worst.justCents, 0)}.
        </p>
      </div>
      <Button small aria-label={`Listen to ${where}`} onClick={() => playStretch(chordStretch(chord))}>
        Listen
      </Button>
    </li>
  );
}
