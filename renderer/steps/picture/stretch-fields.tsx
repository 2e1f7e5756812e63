import type { SpanView } from '../../../app/shell/contract/desk-view.ts';
import { useView } from '../../desk/desk-store.ts';
import { NumberField } from '../drawing/number-field.tsx';
import { barNumbers, barsOfSec, secOfBars } from './bar-stretch.ts';

/** Shortest stretch that can be set, s. */
const SHORTEST_SEC = 0.5;

/** A stretch of session time, in seconds, and in bars where the guide has them. what: completes "from" for screen readers. */
export function StretchFields(props: {
  readonly stretch: SpanView;
  readonly highestSec: number;
  readonly what: string;
  readonly onSet: (stretch: SpanView) => void;
}) {
  const { stretch, highestSec, what, onSet } = props;
  const plan = useView().session.guide?.plan ?? null;
  const seconds = { unit: 's', step: 0.1, digits: 2 } as const;
  const { fromSec, toSec } = stretch;
  return (
    <>
      <div className="picture-place">
        <NumberField
          {...seconds}
          label={`${what} from`}
          value={fromSec}
          lowest={0}
          highest={toSec - SHORTEST_SEC}
          onSet={(sec) => onSet({ fromSec: sec, toSec })}
        />
        <NumberField
          {...seconds}
          label={`${what} to`}
          value={toSec}
          lowest={fromSec + SHORTEST_SEC}
          highest={Math.max(highestSec, fromSec + SHORTEST_SEC)}
          onSet={(sec) => onSet({ fromSec, toSec: sec })}
        />
      </div>
      {plan !== null && plan.bars.length > 0 && <BarFields plan={plan} {...props} />}
    </>
  );
}

function BarFields({
  plan,
  stretch,
  what,
  onSet,
}: {
  readonly plan: NonNullable<Parameters<typeof barsOfSec>[0]>;
  readonly stretch: SpanView;
  readonly what: string;
  readonly onSet: (stretch: SpanView) => void;
}) {
  const bars = barsOfSec(plan, stretch);
  const { lowest, highest } = barNumbers(plan);
  const common = { unit: '', step: 1, digits: 0 } as const;
  const set = (fromBar: number, toBar: number): void => {
    const sec = secOfBars(plan, { fromBar, toBar });
    if (sec !== null) onSet(sec);
  };
  return (
    <div className="picture-place">
      <NumberField
        {...common}
        label={`${what} from bar`}
        value={bars.fromBar}
        lowest={lowest}
        highest={bars.toBar}
        onSet={(bar) => set(bar, bars.toBar)}
      />
      <NumberField
        {...common}
        label="to the end of bar"
        value={bars.toBar}
        lowest={bars.fromBar}
        highest={highest}
        onSet={(bar) => set(bars.fromBar, bar)}
      />
    </div>
  );
}
