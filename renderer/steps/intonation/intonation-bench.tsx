import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import { useView } from '../../desk/desk-store.ts';
import { Explain } from '../../parts/explain.tsx';
import { FaultBox } from '../../parts/fault-box.tsx';
import { Note } from '../../parts/note.tsx';
import { figure } from '../../parts/numbers.ts';
import { ChordsPart } from './chords-part.tsx';
import { againstWords, centsWords, driftWords, exactCents, unmeasuredWords } from './intonation-words.ts';
import { ListenPart } from './listen-part.tsx';
import { Thresholds, TimingPart } from './timing-part.tsx';
import { usePitchOverlay } from './use-pitch-overlay.ts';
import { VoicesPart } from './voices-part.tsx';
import './intonation-bench.css';

/** The bench of Intonation: how the voices are in tune and in time with one another, once it is asked for. */
export function IntonationBench() {
  const { intonation, steps, session } = useView();
  const report = intonation?.report ?? null;
  usePitchOverlay(report, session.guide?.plan ?? null);
  return (
    <div className="intonation">
      <div className="intonation-head">
        <h2>Intonation</h2>
        <p className="faint">{steps.intonation.sentence}</p>
      </div>
      <ListenPart />
      {intonation?.fault != null && <FaultBox fault={intonation.fault} />}
      {intonation?.state === 'stale' && (
        <Note kind="look" title="This is how it was.">
          Takes, their places or the guide are others now; listen to the pitch again.
        </Note>
      )}
      {report === null ? <What /> : <Report report={report} />}
    </div>
  );
}

function What() {
  return (
    <p>
      Partsong follows the pitch of every voice, note by note, and tells what A you play by, whether it sinks or rises,
      which chords are out of tune, and who is early or late. Nothing of it changes the sound.
    </p>
  );
}

function Report({ report }: { readonly report: PitchReportView }) {
  const plan = useView().session.guide?.plan ?? null;
  const { intonation } = report;
  if (intonation === null) {
    return (
      <Note kind="look" title="No notes were heard whose pitch could be measured.">
        {report.voices.map((voice) => (
          <p key={voice.id}>
            {voice.name}: {unmeasuredWords(voice) ?? 'no notes were found in it.'}
          </p>
        ))}
      </Note>
    );
  }
  return (
    <>
      <Reference report={report} intonation={intonation} />
      <div className="intonation-columns">
        <ChordsPart intonation={intonation} plan={plan} />
        <TimingPart timing={report.timing} />
      </div>
      <VoicesPart report={report} intonation={intonation} plan={plan} />
      <Thresholds of={intonation.thresholds} />
      {report.notes.length > 0 && (
        <section className="intonation-part" aria-labelledby="intonation-notes">
          <h3 id="intonation-notes">Worth knowing</h3>
          <ul className="intonation-says">
            {report.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </section>
      )}
    </>
  );
}

interface ReferenceProps {
  readonly report: PitchReportView;
  readonly intonation: IntonationReport;
}

function Reference({ report, intonation }: ReferenceProps) {
  const { reference, drift, chordsMeasured } = intonation;
  return (
    <section className="intonation-part" aria-label="The ensemble's pitch">
      <dl className="intonation-figures">
        <div>
          <dt>
            <Explain word="ownPitch">Your A</Explain>
          </dt>
          <dd className="intonation-a">{figure(reference.hz, 1)} Hz</dd>
        </div>
        <div>
          <dt>
            <Explain word="cents">From 440 Hz</Explain>
          </dt>
          <dd>
            {centsWords(reference.cents)} <span className="small faint">{exactCents(reference.uncertaintyCents)}</span>
          </dd>
        </div>
        {reference.given && (
          <div>
            <dt>Held against</dt>
            <dd>{figure(reference.usedHz, 1)} Hz</dd>
          </div>
        )}
        {report.guideReferenceHz !== null && (
          <div>
            <dt>Tone of the guide</dt>
            <dd>{figure(report.guideReferenceHz, 1)} Hz</dd>
          </div>
        )}
        <div>
          <dt>Chords measured</dt>
          <dd>{chordsMeasured}</dd>
        </div>
      </dl>
      <p>
        <Explain word="pitchDrift">Drift:</Explain> {driftWords(drift)} {againstWords(report)}
      </p>
    </section>
  );
}
