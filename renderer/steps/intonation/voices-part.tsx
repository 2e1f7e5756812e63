import type { HeardVoiceView, PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import { WARN_CENTS } from '../../../core/pitch/audibility.ts';
import type { IntonationReport, VoiceIntonation } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { useView } from '../../desk/desk-store.ts';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { voiceColour } from '../../parts/voice-colours.ts';
import { timeSpan } from './cents-layout.ts';
import { CentsPicture } from './cents-picture.tsx';
import { centsWords, exactCents, missesMany, notesOut, noteWords, unmeasuredWords } from './intonation-words.ts';

const MOST_NOTES = 3;

interface VoicesPartProps {
  readonly report: PitchReportView;
  readonly intonation: IntonationReport;
  readonly plan: KeptPlan | null;
}

/** Each voice: figures, habits, what could not be measured, and its notes over time. */
export function VoicesPart({ report, intonation, plan }: VoicesPartProps) {
  const span = timeSpan(intonation.voices);
  return (
    <section className="intonation-part intonation-voices" aria-labelledby="intonation-voices">
      <h3 id="intonation-voices">Voice by voice</h3>
      <p className="small faint">
        Each line is a note, as long as it was held, so many cents from the reference, which is the zero line; the
        dashed line is the voice's own middle. Inside the shaded band, {WARN_CENTS} cents to either side, few will mind;
        lines outside of it are drawn thicker. Triangles stand for notes farther off than the picture reaches.
      </p>
      {report.voices.map((heard) => {
        const voice = intonation.voices.find(({ id }) => id === heard.id);
        return voice === undefined ? null : (
          <VoiceSheet key={heard.id} heard={heard} voice={voice} span={span} plan={plan} />
        );
      })}
    </section>
  );
}

interface VoiceSheetProps {
  readonly heard: HeardVoiceView;
  readonly voice: VoiceIntonation;
  readonly span: { readonly fromSec: number; readonly toSec: number };
  readonly plan: KeptPlan | null;
}

function VoiceSheet({ heard, voice, span, plan }: VoiceSheetProps) {
  const colourAt = useView().session.voices.find(({ id }) => id === heard.id)?.colour ?? 0;
  const unmeasured = unmeasuredWords(heard);
  const out = notesOut(voice);
  return (
    <article className="intonation-voice" aria-label={heard.name}>
      <div className="intonation-voice-words">
        <h4 style={{ borderLeftColor: voiceColour(colourAt) }}>{heard.name}</h4>
        {voice.centreCents !== null && (
          <dl className="intonation-figures">
            <div>
              <dt>
                <Explain word="cents">Its middle</Explain>
              </dt>
              <dd>
                {centsWords(voice.centreCents)}{' '}
                <span className="small faint">{exactCents(voice.centreUncertaintyCents ?? 0)}</span>
              </dd>
            </div>
            <div>
              <dt>
                <Explain word="pitchSpread">Spread</Explain>
              </dt>
              <dd>
                {figure(voice.spreadCents, 0)} {figure(voice.spreadCents, 0) === '1' ? 'cent' : 'cents'}
              </dd>
            </div>
            <div>
              <dt>Notes measured</dt>
              <dd>
                {voice.notes.length}
                {heard.notesWritten !== null && ` of ${heard.notesWritten}`}
              </dd>
            </div>
          </dl>
        )}
        <ul className="intonation-says">
          {voice.habits.map(({ kind, sentence }) => (
            <li key={kind}>{sentence}</li>
          ))}
          {out.slice(0, MOST_NOTES).map((one) => (
            <li key={one.note.fromSec}>{noteWords(plan, one)} for this voice.</li>
          ))}
          {out.length > MOST_NOTES && (
            <li>
              {out.length - MOST_NOTES === 1 ? 'One more note is' : `${out.length - MOST_NOTES} more notes are`} off by{' '}
              {WARN_CENTS} cents or more; “Note by note” has them all.
            </li>
          )}
          {voice.centreCents !== null && voice.habits.length + out.length === 0 && (
            <li>Nothing stands out{unmeasured === null ? '' : ' among the notes that were measured'}.</li>
          )}
        </ul>
        {unmeasured !== null && (
          <p className="intonation-unmeasured small">
            {(heard.verdict.kind !== 'pitched' || missesMany(heard)) && <StateSign state="lookHere" />} {unmeasured}
          </p>
        )}
      </div>
      {voice.notes.length > 0 && <CentsPicture voice={voice} colour={voiceColour(colourAt)} span={span} plan={plan} />}
    </article>
  );
}
