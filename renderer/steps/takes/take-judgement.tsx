import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take, TakeMark, Voice } from '../../../core/session/schema.ts';
import type { TakeProposal, TakeWorth } from '../../../core/session/take-worth.ts';
import { edit } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { markWords, sheetFigures } from './take-sheet.ts';
import './take-judgement.css';

/** A flaw of so much weight, what most players would call one, has its figure marked. */
const MARKED_WEIGHT = 1;

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
      {facts?.state === 'ready' && (
        <dl className="judgement-figures">
          {sheetFigures(take, facts).map(({ label, words, flaws }) => {
            const isFlaw =
              worth?.flaws.some(({ kind, weight }) => weight >= MARKED_WEIGHT && flaws.includes(kind)) === true;
            return (
              <div key={label}>
                <dt>{label}</dt>
                <dd className={isFlaw ? 'judgement-flaw' : undefined}>{words}</dd>
              </div>
            );
          })}
        </dl>
      )}
      {facts?.state === 'ready' && facts.played?.noPitch != null && (
        <span className="judgement-against">{facts.played.noPitch}</span>
      )}
      {worth !== undefined && worth.flaws.length > 0 && (
        <span className="judgement-against">{worth.flaws.map((one) => one.words).join(', ')}</span>
      )}
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
    </p>
  );
}
