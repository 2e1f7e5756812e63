import type { ReactNode } from 'react';
import { anchorsOf } from '../../../core/session/anchors.ts';
import { residualWarning } from '../../../core/session/offset-curve.ts';
import { BARE_MARK, isBareMark, isUnplaced } from '../../../core/session/place-words.ts';
import type { Placement } from '../../../core/session/schema.ts';
import { takeInHand } from '../../desk/bench-store.ts';
import { useView } from '../../desk/desk-store.ts';
import { layByHand } from '../../lanes/nudge.ts';
import { Explain } from '../../parts/explain.tsx';
import { change, figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { voiceColour } from '../../parts/voice-colours.ts';
import { NumberField } from '../drawing/number-field.tsx';
import { type TakeOfVoice, takesInOrder } from '../drawing/take-at-hand.ts';
import {
  bendsWords,
  confidenceWords,
  driftWords,
  exactWords,
  foundOffsetSec,
  residualWords,
} from './placement-words.ts';
import './placements-table.css';

const FURTHEST_SEC = 7200;

/** Where every take lies, how exactly and how surely. */
export function PlacementsTable({ takeId }: { readonly takeId: string }) {
  const { session } = useView();
  return (
    <div className="placements">
      <table>
        <caption className="placements-caption">Where each take lies on the session's time line</caption>
        <thead>
          <tr>
            <th scope="col">take</th>
            <th scope="col" className="placements-number">
              <Explain word="offset">begins at</Explain>
            </th>
            <th scope="col">
              <Explain word="drift">its clock</Explain>
            </th>
            <th scope="col" className="placements-number">
              <Explain word="exactTo">exact to</Explain>
            </th>
            <th scope="col" className="placements-number">
              <Explain word="residual">anywhere within</Explain>
            </th>
            <th scope="col">
              <Explain word="confidence">confidence</Explain>
            </th>
          </tr>
        </thead>
        <tbody>
          {takesInOrder(session).map((one) => (
            <PlacementRow key={one.take.id} one={one} inHand={one.take.id === takeId} />
          ))}
        </tbody>
      </table>
    </div>
  );
}

function PlacementRow({ one, inHand }: { readonly one: TakeOfVoice; readonly inHand: boolean }) {
  const { take, voice, sounds } = one;
  const { placement } = take;
  const warning = placement === null ? null : residualWarning(placement);
  const bends = placement === null ? [] : bendsWords(placement);
  return (
    <>
      <tr className={inHand ? 'placements-in-hand' : undefined}>
        <th scope="row" style={{ borderLeftColor: voiceColour(voice.colour) }}>
          <button
            type="button"
            className="placements-take"
            title={take.name}
            aria-current={inHand ? 'true' : undefined}
            onClick={() => takeInHand(voice.id, take.id)}
          >
            {take.name}
          </button>
          {sounds ? null : <span className="placements-aside">not in the mix</span>}
        </th>
        <td className="placements-number">
          <NumberField
            quiet
            label={`${take.name} begins at`}
            unit="s"
            value={placement?.offsetSec ?? null}
            digits={4}
            step={0.001}
            lowest={-FURTHEST_SEC}
            highest={FURTHEST_SEC}
            onSet={(sec) => layByHand(take, sec)}
          />
        </td>
        {placement === null ? (
          <td colSpan={4}>not lined up yet</td>
        ) : (
          <>
            <td>{isUnplaced(placement) ? '–' : driftWords(placement.driftPpm)}</td>
            <td className="placements-number">{exactWords(placement)}</td>
            <td className="placements-number">{residualWords(placement)}</td>
            <td>
              <span className="placements-sure">
                {placement.question === null && (warning === null || placement.by === 'user') ? null : (
                  <>
                    <StateSign state="lookHere" />
                    <span className="unseen">Look here: </span>
                  </>
                )}
                {sureOf(take, placement)}
              </span>
            </td>
          </>
        )}
      </tr>
      {bends.length === 0 ? null : (
        <tr className={inHand ? 'placements-in-hand placements-bends' : 'placements-bends'}>
          <td colSpan={6} style={{ borderLeftColor: voiceColour(voice.colour) }}>
            {take.name}'s clock changes at {bends.join('; at ')}
          </td>
        </tr>
      )}
    </>
  );
}

function sureOf(take: TakeOfVoice['take'], placement: Placement): ReactNode {
  if (placement.by === 'user') return byHand(take);
  return isBareMark(placement) ? BARE_MARK : <Confidence value={placement.confidence} />;
}

function byHand(take: TakeOfVoice['take']): string {
  const pins = anchorsOf(take.placement).length;
  if (pins > 0) return pins === 1 ? 'by your pin' : `by your ${pins} pins`;
  const found = take.placement === null ? undefined : foundOffsetSec(take.placement);
  if (take.placement === null || found === undefined) return 'laid by you';
  const ms = (take.placement.offsetSec - found) * 1000;
  return Math.abs(ms) < 0.01 ? 'accepted by you' : `moved by you, ${change(ms, Math.abs(ms) < 10 ? 2 : 0)} ms`;
}

/** A confidence in words and per cent, with a little rule that is as long as it is. */
function Confidence({ value }: { readonly value: number }) {
  return (
    <span className="placements-confidence">
      <span className="placements-measure" aria-hidden="true">
        <span style={{ width: `${Math.round(value * 100)}%` }} />
      </span>
      <span>
        {confidenceWords(value)}
        <span className="placements-percent">, {figure(value * 100, 0)} %</span>
      </span>
    </span>
  );
}
