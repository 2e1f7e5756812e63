import { useView } from '../../desk/desk-store.ts';
import { chooseScore } from '../../frame/pick.ts';
import { Button } from '../../parts/button.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { choose, leaveScore, useGuideDraft } from './guide-draft.ts';
import { GuideRow } from './guide-row.tsx';
import { familyWords, keyName, metreWords, tempoOf, tempoWords } from './guide-words.ts';

const UNITS = [1, 2, 4, 8, 16, 32] as const;

/** What is played: a score, or so many bars of a metre. */
export function PiecePart() {
  const { choice, score, isReading } = useGuideDraft();
  const sessionTitle = useView().session.title;
  const ownTitle = score?.score.title ?? sessionTitle;
  return (
    <section className="guide-part" aria-labelledby="guide-piece">
      <h3 id="guide-piece">The piece</h3>
      <div className="guide-score">
        <Button kind={score === null ? 'main' : 'plain'} disabled={isReading} onClick={() => void chooseScore()}>
          {score === null ? 'Choose a score …' : 'Another score …'}
        </Button>
        {score !== null && (
          <Button kind="quiet" onClick={leaveScore}>
            Without a score
          </Button>
        )}
        <span role="status" className="small faint">
          {isReading
            ? 'The score is being read …'
            : score === null
              ? 'MIDI or MusicXML; without one the guide is a click.'
              : `${nameOf(score.file)} was read.`}
        </span>
      </div>
      {score === null ? <PlainPiece /> : <ScoreRead />}
      <GuideRow name="Title">
        <TypedName
          className="guide-title"
          label="Title of the guide"
          value={choice.title}
          placeholder={ownTitle === '' ? 'Guide' : ownTitle}
          mayBeEmpty
          onChange={(title) => choose({ title })}
        />
      </GuideRow>
      <GuideRow
        name="Tempo"
        hint={
          score !== null &&
          (choice.quartersPerMinute === null ? (
            'As the score says; later changes follow it.'
          ) : (
            <Button small onClick={() => choose({ quartersPerMinute: null })}>
              As the score says
            </Button>
          ))
        }
      >
        <NumberField
          label="Tempo"
          quiet
          value={tempoOf(choice, score)}
          unit="quarters/min"
          lowest={5}
          highest={1000}
          step={1}
          digits={Number.isInteger(tempoOf(choice, score)) ? 0 : 1}
          onSet={(quartersPerMinute) => choose({ quartersPerMinute })}
        />
      </GuideRow>
    </section>
  );
}

function PlainPiece() {
  const { metre, bars } = useGuideDraft((state) => state.choice);
  return (
    <>
      <GuideRow name="Metre">
        <NumberField
          label="Beats in a bar"
          quiet
          value={metre.beats}
          unit=""
          lowest={1}
          highest={64}
          step={1}
          digits={0}
          onSet={(beats) => choose({ metre: { ...metre, beats: Math.round(beats) } })}
        />
        <span aria-hidden="true">/</span>
        <select
          aria-label="Which note is counted"
          value={metre.unit}
          onChange={(event) => {
            const unit = UNITS.find((one) => one === Number(event.target.value));
            if (unit !== undefined) choose({ metre: { ...metre, unit } });
          }}
        >
          {UNITS.map((unit) => (
            <option key={unit} value={unit}>
              {unit}
            </option>
          ))}
        </select>
      </GuideRow>
      <GuideRow name="Length">
        <NumberField
          label="Bars"
          quiet
          value={bars}
          unit="bars"
          lowest={1}
          highest={2000}
          step={1}
          digits={0}
          onSet={(wanted) => choose({ bars: Math.round(wanted) })}
        />
      </GuideRow>
    </>
  );
}

/** What the reader understood of the score. */
function ScoreRead() {
  const view = useGuideDraft((state) => state.score);
  if (view === null) return null;
  const { score } = view;
  return (
    <div className="guide-read">
      <p className="small">
        {metreWords(score.metres, score.pickUpQuarters > 0)}
        {score.pickUpQuarters > 0 && ', with a pick-up'}; {tempoWords(score)}.
      </p>
      <ol className="guide-voices" aria-label="Voices of the score">
        {score.parts.map(({ name, sound, noteCount, lowestKey, highestKey }) => (
          <li key={name}>
            <span className="guide-voice">{name}</span>{' '}
            <span className="small faint">
              {familyWords[sound]}, {noteCount === 1 ? 'one note' : `${noteCount} notes`}
              {lowestKey !== null && highestKey !== null && `, ${keyName(lowestKey)} to ${keyName(highestKey)}`}
            </span>
          </li>
        ))}
      </ol>
      {score.notes.length > 0 && (
        <details className="small">
          <summary>{score.notes.length === 1 ? 'One remark' : `${score.notes.length} remarks`} of the reader</summary>
          <ul className="guide-remarks">
            {score.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </details>
      )}
    </div>
  );
}

function nameOf(path: string): string {
  return path.split(/[/\\]/).at(-1) ?? path;
}
