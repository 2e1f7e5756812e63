import { BARS_PX, RULER_PX } from './draw-head.ts';
import { GuideHead, type GuideHeadProps } from './guide-head.tsx';

/** What stands at the left of the ruler, the bars and the guide line, which the canvas shows. */
export function LanesHead(props: GuideHeadProps) {
  return (
    <div className="lanes-head">
      <div className="lanes-head-time" style={{ height: RULER_PX }} title="Minutes and seconds of the piece">
        time
      </div>
      {props.scene.bars.length > 0 && (
        <div
          className="lanes-head-time"
          style={{ height: BARS_PX }}
          title="Bars of the piece, and beats where there is room"
        >
          bar
        </div>
      )}
      <GuideHead {...props} />
    </div>
  );
}
