import { type Threshold, WARN_MS } from '../../../core/pitch/audibility.ts';
import type { TimingReport } from '../../../core/pitch/timing.ts';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { isLate, lateWords } from './intonation-words.ts';
import { knowsBars, STRETCH_SEC } from './timing-layout.ts';
import { TimingPicture } from './timing-picture.tsx';

/** Who is early or late, and how well all keep together. */
export function TimingPart({ timing }: { readonly timing: TimingReport | null }) {
  return (
    <section className="intonation-part" aria-labelledby="intonation-timing">
      <h3 id="intonation-timing">Early and late</h3>
      {timing === null ? (
        <p className="small faint">There is nothing to hold times against: one voice alone, and no guide.</p>
      ) : (
        <Timing timing={timing} />
      )}
    </section>
  );
}

function Timing({ timing }: { readonly timing: TimingReport }) {
  const worst = [...timing.bars].sort((one, other) => other.spreadMs - one.spreadMs)[0];
  const hasBars = knowsBars(timing);
  return (
    <>
      {timing.spreadMs !== null && (
        <p>
          <Explain word="together">Notes that belong together</Explain> spread by {figure(timing.spreadMs, 0)} ms as a
          rule{worst === undefined ? '' : `, most in bar ${worst.bar} (${figure(worst.spreadMs, 0)} ms)`}.
        </p>
      )}
      <ul className="intonation-says">
        {timing.voices.flatMap(({ id, sentence }) => (sentence === null ? [] : [<li key={id}>{sentence}</li>]))}
      </ul>
      <TimingPicture timing={timing} />
      <p className="small faint">
        Each mark is a voice in {hasBars ? 'a bar' : `${STRETCH_SEC} seconds`}: above the line late, below it early, by
        the mean of its notes there; the stroke through it is how far these lie apart. Inside the shaded band, {WARN_MS}{' '}
        ms to either side, one does not hear which of two sounds came first; diamonds lie outside of it beyond doubt.
      </p>
      <Thresholds of={timing.thresholds} />
      <div className="intonation-table">
        <table>
          <thead>
            <tr>
              <th scope="col">Voice</th>
              <th scope="col">
                <Explain word="earlyLate">Against {timing.against === 'guide' ? 'the guide' : 'the others'}</Explain>
              </th>
              <th scope="col" className="number">
                exact to, ms
              </th>
              <th scope="col" className="number">
                spread, ms
              </th>
            </tr>
          </thead>
          <tbody>
            {timing.voices.map((voice) => (
              <tr key={voice.id}>
                <th scope="row">{voice.name}</th>
                <td>
                  {isLate(voice) && <StateSign state="lookHere" />}{' '}
                  {voice.lateMs === null ? 'not known' : lateWords(voice.lateMs)}
                </td>
                <td className="number">
                  {voice.uncertaintyMs === null ? '–' : `± ${figure(2 * voice.uncertaintyMs, 0)}`}
                </td>
                <td className="number">{figure(voice.spreadMs, 0)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </>
  );
}

/** Published figures below which a difference is not heard or not minded, with their sources. */
export function Thresholds({ of }: { readonly of: readonly Threshold[] }) {
  return (
    <ul className="intonation-thresholds small faint">
      {of.map(({ value, unit, what, source }) => (
        <li key={what}>
          {value} {unit}: {what}. <cite>{source}</cite>
        </li>
      ))}
    </ul>
  );
}
