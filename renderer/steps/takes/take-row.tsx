import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { clapSecOf, spotsBesideClap, type TakeWorth } from '../../../core/session/take-worth.ts';
import { takeInHand, useBench } from '../../desk/bench-store.ts';
import { edit, useTakeFacts } from '../../desk/desk-store.ts';
import { FaultBox } from '../../parts/fault-box.tsx';
import { change, clock } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { FindAgain } from './find-again.tsx';
import { ListenButton } from './listen-button.tsx';
import { SeveralPart } from './several-part.tsx';
import { TakeJudgement } from './take-judgement.tsx';
import { TakeMenu } from './take-menu.tsx';
import { clippedWords, fileName, fileWords, peakWords } from './take-words.ts';

export interface TakeRowProps {
  readonly take: Take;
  readonly voice: Voice;
  readonly session: Session;
  readonly sounds: boolean;
  readonly worth: TakeWorth | undefined;
  readonly isOneOfMany: boolean;
  readonly onDeleted: (name: string) => void;
}

/** One take of a voice, with what is known of its clip, and below it whatever is wrong with it. */
export function TakeRow({ take, voice, session, sounds, worth, isOneOfMany, onDeleted }: TakeRowProps) {
  const facts = useTakeFacts(take.id);
  const inHand = useBench((state) => state.takeId === take.id);
  const isReady = facts?.state === 'ready';
  return (
    <>
      <tr
        className={inHand ? 'takes-row takes-row-in-hand' : 'takes-row'}
        data-take={take.id}
        onFocus={() => takeInHand(voice.id, take.id)}
        onPointerDown={() => takeInHand(voice.id, take.id)}
      >
        <SoundsCell take={take} voice={voice} sounds={sounds} />
        <td className="takes-name">
          <TypedName
            label={`Name of the take ${take.name}`}
            value={take.name}
            onChange={(name) => edit({ kind: 'renameTake', takeId: take.id, name })}
          />
        </td>
        <td>
          <ListenButton take={take} facts={facts} />
        </td>
        {isReady ? <ReadyCells take={take} facts={facts} /> : <WaitingCells facts={facts} />}
        <td>
          <TakeMenu take={take} session={session} onDeleted={onDeleted} />
        </td>
      </tr>
      {(isOneOfMany || take.mark !== 'none' || take.remark !== '' || isClipped(take, facts)) && (
        <tr className="takes-below">
          <td />
          <td colSpan={7}>
            <TakeJudgement take={take} facts={facts} worth={worth} />
          </td>
        </tr>
      )}
      {facts?.several != null && (
        <tr className="takes-below">
          <td />
          <td colSpan={7}>
            <SeveralPart
              key={JSON.stringify(facts.several.parts)}
              take={take}
              session={session}
              several={facts.several}
              clipSec={facts.clipSec}
            />
          </td>
        </tr>
      )}
      <Below take={take} facts={facts} />
    </>
  );
}

/** The choice of the take that its voice sounds with; of a voice of passages none is chosen until one is to sound alone. */
function SoundsCell({ take, voice, sounds }: Pick<TakeRowProps, 'take' | 'voice' | 'sounds'>) {
  const isAlone = voice.passages === null;
  return (
    <td>
      <label className="takes-sounds">
        <input
          type="radio"
          name={`sounds-${voice.id}`}
          checked={sounds && isAlone}
          aria-label={`${voice.name} sounds with ${take.name}${isAlone ? '' : ' alone'}`}
          title={!isAlone && sounds ? 'Used in part; choose it to let it sound alone' : undefined}
          onChange={() => edit({ kind: 'chooseTake', voiceId: voice.id, takeId: take.id })}
        />
      </label>
    </td>
  );
}

/** Such a take is to be listened to and marked, though it is the only one of its voice. */
function isClipped(take: Take, facts: TakeFacts | undefined): boolean {
  return facts?.state === 'ready' && spotsBesideClap(facts.clipped, clapSecOf(take)).length > 0;
}

function ReadyCells({ take, facts }: { take: Take; facts: TakeFacts }) {
  const remark = peakWords(facts.peakDbfs);
  const cut = isClipped(take, facts);
  return (
    <>
      <td className="number">{clock(facts.lengthSec)}</td>
      <td className="number">
        {remark !== null && <span className="takes-remark">{remark} </span>}
        {facts.peakDbfs === null ? '–' : change(facts.peakDbfs)}
      </td>
      <td className="takes-clipped nowrap">
        {cut && (
          <span className="takes-sign">
            <StateSign state="lookHere" />
          </span>
        )}
        <span className={cut ? '' : 'faint'}>{clippedWords(facts, clapSecOf(take))}</span>
      </td>
      <td className="takes-file" title={facts.file}>
        {fileWords(facts)}
      </td>
    </>
  );
}

const waitingWords = {
  waiting: 'waits to be read',
  reading: 'is being read',
  missing: 'missing',
  faulty: 'cannot be used',
  ready: '',
} as const;

function WaitingCells({ facts }: { facts: TakeFacts | undefined }) {
  const state = facts?.state ?? 'waiting';
  return (
    <td colSpan={4} className={state === 'missing' || state === 'faulty' ? 'wrong' : 'faint'}>
      {waitingWords[state]}
    </td>
  );
}

function Below({ take, facts }: { take: Take; facts: TakeFacts | undefined }) {
  if (facts === undefined) return null;
  const { state, fault, notes } = facts;
  if (state !== 'missing' && fault === null && notes.length === 0) return null;
  return (
    <tr className="takes-below">
      <td />
      <td colSpan={7}>
        {state === 'missing' ? (
          <FindAgain take={take} file={facts.file === '' ? fileName(take.clip.path) : facts.file} />
        ) : (
          fault !== null && <FaultBox fault={fault} />
        )}
        {notes.map((note) => (
          <div key={note} className="small faint">
            {note}
          </div>
        ))}
      </td>
    </tr>
  );
}
