import { useEffect, useRef, useState } from 'react';
import type { GuideChoice } from '../../../app/shell/contract/guide-choice.ts';
import type { ScoreView } from '../../../app/shell/contract/guide-view.ts';
import { ask, theBridge, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Progress } from '../../parts/progress.tsx';
import { SoftAudio } from '../drawing/soft-audio.tsx';
import { useGuideDraft } from './guide-draft.ts';
import { HEARD } from './guide-words.ts';

const EVERYBODY = '';
const NO_PARTS: ScoreView['score']['parts'] = [];

/** What is heard: made for these choices, in whose version. */
interface Heard {
  readonly stamp: number;
  readonly madeFor: string;
  readonly words: string;
}

/** Hears the guide before it is made: the desk makes it quickly into a file of its own, which goes with the session. */
export function TryGuide({ choice, disabled }: { readonly choice: GuideChoice; readonly disabled: boolean }) {
  const parts = useGuideDraft((state) => state.score?.score.parts) ?? NO_PARTS;
  const job = useView().jobs.find((one) => one.title === HEARD);
  const [voice, setVoice] = useState(EVERYBODY);
  const [heard, setHeard] = useState<Heard | null>(null);
  const isThere = useRef(true);
  useEffect(() => {
    isThere.current = true;
    return () => {
      isThere.current = false;
    };
  }, []);
  const whose = parts.some((part) => part.name === voice) ? voice : EVERYBODY;
  const madeFor = JSON.stringify([{ ...choice, formats: [], versions: '' }, whose]);
  const listen = async (): Promise<void> => {
    const made = await ask((bridge) => bridge.calls.tryGuide({ choice, voice: whose === EVERYBODY ? null : whose }));
    if (made === undefined || !isThere.current) return;
    setHeard({ stamp: made.stamp, madeFor, words: whose === EVERYBODY ? 'for all voices' : `for ${whose}` });
  };
  return (
    <div className="guide-try">
      <div className="guide-try-row">
        {parts.length > 0 && choice.versions === 'each' && (
          <select aria-label="Whose guide to hear" value={whose} onChange={(event) => setVoice(event.target.value)}>
            <option value={EVERYBODY}>for all voices</option>
            {parts.map(({ name }) => (
              <option key={name} value={name}>
                for {name}
              </option>
            ))}
          </select>
        )}
        <Button disabled={disabled || job !== undefined} onClick={() => void listen()}>
          {heard === null ? 'Listen to it first' : 'Listen to it as it is now'}
        </Button>
      </div>
      <div role="status">
        {job !== undefined && (
          <Progress
            title={job.title}
            fraction={job.fraction}
            leftSec={job.leftSec}
            onStop={() => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id }))}
          />
        )}
      </div>
      {heard !== null && job === undefined && (
        <>
          <SoftAudio
            key={heard.stamp}
            src={theBridge().mediaUrl(`heard-guide?stamp=${heard.stamp}`)}
            name={`The guide ${heard.words}`}
            begins
          />
          {heard.madeFor !== madeFor && (
            <p className="small faint">This is the guide {heard.words} before your last changes.</p>
          )}
        </>
      )}
    </div>
  );
}
