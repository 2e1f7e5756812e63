import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { Chord } from '../../../core/pitch/chords.ts';
import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { showInLanes } from '../../lanes/lane-overlay.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { useIntonation } from './intonation-store.ts';
import { chordStretch, chordWords, exactCents, faultWords, isOut, whereWords } from './intonation-words.ts';
import { barOfChord } from './use-pitch-overlay.ts';

interface ChordsPartProps {
  readonly intonation: IntonationReport;
  readonly plan: KeptPlan | null;
}

/** The chords that are most out of tune, each to be heard. */
export function ChordsPart({ intonation, plan }: ChordsPartProps) {
  return (
    <section className="intonation-part" aria-labelledby="intonation-chords">
      <h3 id="intonation-chords">
        <Explain word="chordTuning">The worst chords</Explain>
      </h3>
      <p className="small faint">{countWords(intonation)}</p>
      <ol className="intonation-chords">
        {intonation.worstChords.map((chord, at) => (
          <ChordRow key={`${chord.fromSec} ${chord.worst.lowVoiceId}`} chord={chord} at={at} plan={plan} />
        ))}
      </ol>
    </section>
  );
}

function countWords({ chordsOut, chordsMeasured, chordsOutByHabit, voices }: IntonationReport): string {
  if (chordsMeasured === 0) return 'No chords were measured: no two voices with a known place hold notes together.';
  if (chordsOut === 0) return `None of ${chordsMeasured} chords is out of tune as far as it can be heard and told.`;
  const habits = chordsOutByHabit
    .filter(({ count }) => count > 1)
    .map(({ voiceId, count }) => ({ count, name: voices.find(({ id }) => id === voiceId)?.name }));
  const [first, ...others] = habits;
  const more = others.map(({ name, count }) => `, in ${count} ${name}`).join('');
  const told =
    first === undefined
      ? ''
      : ` In ${first.count} of them ${first.name} is off by its habit${more}: “Voice by voice” tells it.`;
  return `${chordsOut} of ${chordsMeasured} are heard to be out of tune; anything between the equal and the pure size counts as in tune. What is heard most clearly comes first.${told}`;
}

interface ChordRowProps {
  readonly chord: Chord;
  /** Number among the worst. */
  readonly at: number;
  readonly plan: KeptPlan | null;
}

function ChordRow({ chord, at, plan }: ChordRowProps) {
  const isMarked = useIntonation((state) => state.chord === at);
  const where = whereWords(plan, chord);
  const { worst, uncertaintyCents } = chord;
  return (
    <li className="intonation-chord">
      <StateSign state={isOut(chord) ? 'lookHere' : 'done'} />
      <div>
        <p>
          <strong className="intonation-where">{where}</strong> {chordWords(chord)} {faultWords(chord)}
          {!isOut(chord) && <span className="faint"> Below {WARN_CENTS} cents few will mind.</span>}
        </p>
        <p className="small faint">
          It sounds {figure(worst.soundingCents, 0)} cents wide ({exactCents(uncertaintyCents)}); equal{' '}
          {figure(worst.equalCents, 0)}, pure {figure(worst.justCents, 0)}.
        </p>
      </div>
      <span className="intonation-chord-actions">
        <Button
          small
          kind={isMarked ? 'plain' : 'quiet'}
          aria-pressed={isMarked}
          aria-label={`Show ${where} in the lanes`}
          onClick={() => {
            useIntonation.setState({ chord: at });
            showInLanes(barOfChord(plan, chord));
          }}
        >
          Show
        </Button>
        <Button
          small
          aria-label={`Listen to ${where}`}
          onClick={() => {
            useIntonation.setState({ chord: at });
            playStretch(chordStretch(chord));
          }}
        >
          Listen
        </Button>
      </span>
    </li>
  );
}
