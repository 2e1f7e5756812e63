import { useState } from 'react';
import type { GuideChoice } from '../../../app/shell/contract/guide-choice.ts';
import { SAFE_LISTENING } from '../../../core/guide/safe-listening.ts';
import { ask, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { clock } from '../../parts/numbers.ts';
import { Progress } from '../../parts/progress.tsx';
import { Slider } from '../../parts/slider.tsx';
import { choose, useGuideDraft } from './guide-draft.ts';
import { HEARD, type Planned } from './guide-words.ts';
import { TryGuide } from './try-guide.tsx';

const forms: readonly { readonly value: GuideChoice['formats'][number]; readonly label: string }[] = [
  { value: 'wav', label: 'WAV' },
  { value: 'flac', label: 'FLAC' },
  { value: 'm4a', label: 'M4A' },
  { value: 'mp3', label: 'MP3' },
  { value: 'mp4', label: 'Film (MP4)' },
];

/** For whom the guide is, in which form; hearing it first; and the making of it. */
export function MakePart({ planned }: { readonly planned: Planned }) {
  const { choice, score, isReading } = useGuideDraft();
  const view = useView();
  const [begins, setBegins] = useState(false);
  const job = view.jobs.find((one) => one.kind === 'guide' && one.title !== HEARD);
  const begin = async (): Promise<void> => {
    setBegins(true);
    await ask((bridge) => bridge.calls.makeGuide({ choice: withTitle(choice, view.session.title) }));
    setBegins(false);
  };
  const blocked = planned.kind === 'not' ? planned.why : choice.formats.length === 0 ? 'Choose a form.' : null;
  return (
    <section className="guide-part guide-make" aria-labelledby="guide-make">
      <h3 id="guide-make">For whom, and in which form</h3>
      <div className="guide-columns">
        <div className="guide-make-part">
          {score !== null && <ForWhom />}
          {score !== null && view.session.takes.length > 0 && <WithTakes />}
          <fieldset className="guide-forms">
            <legend className="choice-label">Forms</legend>
            {forms.map(({ value, label }) => (
              <label className="tick" key={value}>
                <input
                  type="checkbox"
                  checked={choice.formats.includes(value)}
                  onChange={(event) => choose({ formats: withForm(choice.formats, value, event.target.checked) })}
                />
                <span>{label}</span>
              </label>
            ))}
          </fieldset>
          <p className="small faint">
            WAV stays in the session; <Explain word="m4a">M4A</Explain> and <Explain word="mp3">MP3</Explain> are for
            the phone; the film shows bars and beats in large type.
          </p>
        </div>
        <div className="guide-make-part">
          <TryGuide choice={withTitle(choice, view.session.title)} disabled={blocked !== null || isReading} />
          <div role="status" className="guide-progress">
            {job !== undefined && (
              <Progress
                title={job.title}
                fraction={job.fraction}
                leftSec={job.leftSec}
                onStop={() => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id }))}
              />
            )}
          </div>
          {job === undefined && (
            <div className="guide-start">
              <Button
                kind={view.madeGuide === null ? 'main' : 'plain'}
                disabled={blocked !== null || isReading || begins}
                onClick={() => void begin()}
              >
                {view.madeGuide === null ? 'Make the guide' : 'Make it anew'}
              </Button>
              <span className="small">
                {blocked ??
                  (planned.kind === 'planned' && (
                    <span className="faint">
                      {clock(planned.plan.lengthFrames / 48000, 0)} long, {planned.plan.bars.length} bars
                    </span>
                  ))}
              </span>
            </div>
          )}
        </div>
        <p className="small guide-caution">
          <strong>Headphones.</strong> {SAFE_LISTENING}
        </p>
      </div>
    </section>
  );
}

function ForWhom() {
  const { versions, ownDb } = useGuideDraft((state) => state.choice);
  return (
    <>
      <Choice
        layout="list"
        label="Whose guide"
        hideLabel
        value={versions}
        options={[
          { value: 'one', label: 'One guide for all voices' },
          {
            value: 'each',
            label: 'One for each voice as well',
            hint: 'Each hears the own voice apart from the others.',
          },
        ]}
        onChange={(wanted) => choose({ versions: wanted })}
      />
      {versions === 'each' && (
        <>
          <Choice
            label="The own voice in its guide"
            value={ownDb === null ? 'out' : 'heard'}
            options={[
              { value: 'heard', label: 'heard' },
              { value: 'out', label: 'left out' },
            ]}
            onChange={(wanted) => choose({ ownDb: wanted === 'out' ? null : 6 })}
          />
          {ownDb !== null && (
            <Slider
              label="Own voice against the others"
              unit="dB"
              min={-40}
              max={12}
              step={1}
              digits={0}
              value={ownDb}
              onChange={(next) => choose({ ownDb: next })}
            />
          )}
        </>
      )}
    </>
  );
}

/** Playing along with oneself: what is recorded sounds in place of the mock-up. */
function WithTakes() {
  const withTakes = useGuideDraft((state) => state.choice.withTakes);
  return (
    <div>
      <label className="tick">
        <input type="checkbox" checked={withTakes} onChange={(event) => choose({ withTakes: event.target.checked })} />
        <span>Voices that are recorded sound themselves</span>
      </label>
      <p className="small faint">
        Your takes stand in for the played voices of the same names, so that you tune to yourself.
      </p>
    </div>
  );
}

type Form = GuideChoice['formats'][number];

function withForm(formats: readonly Form[], form: Form, isWanted: boolean): Form[] {
  return forms.map((one) => one.value).filter((one) => (one === form ? isWanted : formats.includes(one)));
}

/** Without a score a guide bears the title of the session. */
function withTitle(choice: GuideChoice, sessionTitle: string): GuideChoice {
  return choice.title === '' && choice.score === null ? { ...choice, title: sessionTitle } : choice;
}
