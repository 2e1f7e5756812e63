import { useBench } from '../desk/bench-store.ts';
import { stepsInOrder } from '../desk/desk-store.ts';
import { BlendBench } from '../steps/blend/blend-bench.tsx';
import { CleanBench } from '../steps/clean/clean-bench.tsx';
import { GuideBench } from '../steps/guide/guide-bench.tsx';
import { IntonationBench } from '../steps/intonation/intonation-bench.tsx';
import { LineUpBench } from '../steps/line-up/line-up-bench.tsx';
import { PictureBench } from '../steps/picture/picture-bench.tsx';
import { RenderBench } from '../steps/render/render-bench.tsx';
import { SoundCheckBench } from '../steps/sound-check/sound-check-bench.tsx';
import { TakesBench } from '../steps/takes/takes-bench.tsx';
import { Fence } from './fence.tsx';

const benches = {
  guide: GuideBench,
  soundCheck: SoundCheckBench,
  takes: TakesBench,
  clean: CleanBench,
  lineUp: LineUpBench,
  intonation: IntonationBench,
  blend: BlendBench,
  picture: PictureBench,
  render: RenderBench,
} as const;

/** The bench of the step that is at hand. */
export function BenchOf() {
  const step = useBench((state) => state.step);
  const Bench = benches[step];
  const label = stepsInOrder.find((one) => one.name === step)!.label;
  return (
    <section className="frame-bench" aria-label={`Bench: ${label}`} key={step}>
      <Fence what={`The bench of ${label}`}>
        <Bench />
      </Fence>
    </section>
  );
}
