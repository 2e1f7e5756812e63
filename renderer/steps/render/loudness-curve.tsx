import type { RenderView } from '../../../app/shell/contract/desk-view.ts';
import { Curve } from '../../parts/curve.tsx';
import { Explain } from '../../parts/explain.tsx';
import { figure } from '../../parts/numbers.ts';
import { CURVE_STEP_SEC, curveRange, curveSentence } from './result-words.ts';

/** How loud the mix is from phrase to phrase, with the target as a line. */
export function LoudnessCurve({ render }: { render: RenderView }) {
  const { shortTermLufs, targetLufs } = render;
  const { low, high } = curveRange(shortTermLufs, targetLufs);
  const sentence = curveSentence(shortTermLufs, targetLufs);
  return (
    <figure className="render-curve">
      <figcaption className="small faint">
        <Explain word="shortTerm">Short-term loudness</Explain> over time. {sentence}
      </figcaption>
      <Curve
        title="Short-term loudness over time"
        description={sentence}
        values={shortTermLufs}
        stepSec={CURVE_STEP_SEC}
        low={low}
        high={high}
        unit="LUFS"
        line={{ value: targetLufs, name: `target ${figure(targetLufs)} LUFS` }}
      />
    </figure>
  );
}
