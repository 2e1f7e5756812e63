import { useMemo } from 'react';
import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { IntonationReport } from '../../../core/pitch/intonation.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { withTakesApart } from '../../../core/session/takes-apart.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { FaultBox } from '../../parts/fault-box.tsx';
import { Note } from '../../parts/note.tsx';
import { figure } from '../../parts/numbers.ts';
import { ChordsPart } from './chords-part.tsx';
import { type BenchPart, useIntonation } from './intonation-store.ts';
import { centsWords, driftWords, exactCents, heldWords, unmeasuredWords } from './intonation-words.ts';
import { ListenPart } from './listen-part.tsx';
import { MendPart } from './mend-part.tsx';
import { LanesWords, NoteInHandLine } from './note-in-hand.tsx';
import { NotesPart } from './notes-part.tsx';
import { Thresholds, TimingPart } from './timing-part.tsx';
import { usePitchOverlay } from './use-pitch-overlay.ts';
import { VoicesPart } from './voices-part.tsx';
import './intonation-bench.css';

/** The bench of Intonation: how the voices are in tune and in time with one another, once it is asked for. */
export function IntonationBench() {
  const { intonation, steps, session } = useView();
  const report = intonation?.report ?? null;
  const part = useIntonation((state) => state.part);
  usePitchOverlay(report, session);
  return (
    <div className="intonation">
      <div className="intonation-head">
        <h2>Intonation</h2>
        {report?.intonation == null ? <p className="faint">{steps.intonation.sentence}</p> : <PartChoice />}
      </div>
      {report?.intonation == null && <ListenPart />}
      {report?.intonation != null && part !== 'mend' && (
        <details className="intonation-held">
          <summary>
            {heldWords(report)} <span className="intonation-more">Change it, or listen again</span>
          </summary>
          <ListenPart />
        </details>
      )}
      {intonation?.fault != null && <FaultBox fault={intonation.fault} />}
      {intonation?.state === 'stale' && (
        <Note
          kind="look"
          title="This is how it was."
          actions={
            report !== null && (
              <Button small onClick={() => void ask((bridge) => bridge.calls.listenToPitch(report.choice))}>
                Listen to it anew
              </Button>
            )
          }
        >
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
      which chords are out of tune, and who is early or late. Nothing of it changes the sound; what is a little off can
      be mended afterwards, if you choose to.
    </p>
  );
}

function Report({ report }: { readonly report: PitchReportView }) {
  const { session } = useView();
  const plan = session.guide?.plan ?? null;
  const intonation = useMemo(() => report.intonation && withTakesApart(report.intonation, session), [report, session]);
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
  return <Parts report={report} intonation={intonation} plan={plan} />;
}

const PARTS: readonly { readonly value: BenchPart; readonly label: string }[] = [
  { value: 'together', label: 'All together' },
  { value: 'voices', label: 'Voice by voice' },
  { value: 'timing', label: 'Early and late' },
  { value: 'notes', label: 'Note by note' },
  { value: 'mend', label: 'Mend' },
];

interface PartsProps extends ReferenceProps {
  readonly plan: KeptPlan | null;
}

/** Which part of the report is shown. */
function PartChoice() {
  const part = useIntonation((state) => state.part);
  return (
    <Choice
      label="Shown"
      hideLabel
      value={part}
      options={PARTS}
      onChange={(wanted) => useIntonation.setState({ part: wanted })}
    />
  );
}

/** The report, one part of it at a time; the note in hand stays. */
function Parts({ report, intonation, plan }: PartsProps) {
  const part = useIntonation((state) => state.part);
  return (
    <>
      <NoteInHandLine report={report} plan={plan} />
      {part === 'together' && <Together report={report} intonation={intonation} plan={plan} />}
      {part === 'voices' && (
        <>
          <VoicesPart report={report} intonation={intonation} plan={plan} />
          <Thresholds of={intonation.thresholds} />
        </>
      )}
      {part === 'timing' && <TimingPart timing={report.timing} />}
      {part === 'notes' && <NotesPart report={report} plan={plan} />}
      {part === 'mend' && <MendPart report={report} plan={plan} />}
    </>
  );
}

function Together({ report, intonation, plan }: PartsProps) {
  return (
    <>
      <Reference report={report} intonation={intonation} />
      <div className="intonation-columns">
        <ChordsPart intonation={intonation} plan={plan} />
        <div>
          <section className="intonation-part" aria-labelledby="intonation-lanes">
            <h3 id="intonation-lanes">In the lanes</h3>
            <LanesWords />
          </section>
          <section className="intonation-part" aria-labelledby="intonation-audible">
            <h3 id="intonation-audible">What is heard of it</h3>
            <Thresholds of={intonation.thresholds} />
          </section>
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
        </div>
      </div>
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
        <Explain word="pitchDrift">Drift:</Explain> {driftWords(drift)}
      </p>
    </section>
  );
}
