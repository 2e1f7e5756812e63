import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take, TakeMark, Voice } from '../../../core/session/schema.ts';
import type { TakeProposal, TakeWorth } from '../../../core/session/take-worth.ts';
import { ask, edit, useDesk } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { figuresInWords, markWords } from './take-sheet.ts';
import './take-judgement.css';

/** The player's mark and remark on a take, and what was measured of it. */
export function TakeJudgement({
  take,
  facts,
  worth,
}: {
  readonly take: Take;
  readonly facts: TakeFacts | undefined;
  readonly worth: TakeWorth | undefined;
}) {
  return (
    <div className="judgement">
      <select
        className="judgement-mark"
        aria-label={`Your mark for ${take.name}`}
        value={take.mark}
        onChange={(event) => edit({ kind: 'setMark', takeId: take.id, mark: event.target.value as TakeMark })}
      >
        {(Object.keys(markWords) as TakeMark[]).map((mark) => (
          <option key={mark} value={mark}>
            {markWords[mark]}
          </option>
        ))}
      </select>
      <TypedName
        className="judgement-remark"
        label={`Your remark on ${take.name}`}
        placeholder="remark"
        value={take.remark}
        most={2000}
        mayBeEmpty
        onChange={(remark) => edit({ kind: 'setRemark', takeId: take.id, remark })}
      />
      <span className="judgement-figures faint">
        {facts?.state === 'ready' && figuresInWords(take, facts)}
        {worth !== undefined && worth.flaws.length > 0 && ` \u2013 ${worth.flaws.map((one) => one.words).join(', ')}`}
      </span>
    </div>
  );
}

/** Which take of a voice is proposed, and why; with a button where another one sounds. */
export function Proposal({
  voice,
  takes,
  best,
  soundingId,
}: {
  readonly voice: Voice;
  readonly takes: readonly Take[];
  readonly best: TakeProposal;
  readonly soundingId: string | undefined;
}) {
  const isListened = useDesk((state) => takes.some(({ id }) => state.view?.takes[id]?.played != null));
  const take = takes.find((one) => one.id === best.takeId);
  if (take === undefined) return null;
  const isIt = voice.passages === null && soundingId === take.id;
  return (
    <p className="judgement-proposal">
      <span>
        <b>Proposed: {take.name}.</b> {best.reason}
      </span>
      {!isIt && (
        <Button
          small
          aria-label={`Let it sound: ${take.name}`}
          onClick={() => edit({ kind: 'chooseTake', voiceId: voice.id, takeId: take.id })}
        >
          Let it sound
        </Button>
      )}
      {!isListened && (
        <Button
          small
          kind="quiet"
          aria-label={`Compare timing and pitch, too: takes of ${voice.name}`}
          title="Listens to the takes of all voices that have several: some seconds for each"
          onClick={() => void ask((bridge) => bridge.calls.listenToTakes({}))}
        >
          Compare timing and pitch, too
        </Button>
      )}
    </p>
  );
}
