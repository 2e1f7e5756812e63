import { ask, useView } from '../desk/desk-store.ts';
import { Progress } from '../parts/progress.tsx';
import { useBringing } from './bring-in.ts';

/** All work in the background, with how long it still takes and a way to stop it. */
export function JobsStrip() {
  const jobs = useView().jobs;
  const bringing = useBringing();
  const sending = bringing.fraction === null ? null : bringing;
  return (
    <section className="jobs" aria-label="Work in the background">
      <p className="unseen" role="status">
        {jobs.map((job) => job.title).join(', ')}
      </p>
      {sending !== null && <Progress title={sending.title} fraction={sending.fraction ?? 0} leftSec={null} />}
      {jobs.map((job) => (
        <Progress
          key={job.id}
          title={job.title}
          fraction={job.fraction}
          leftSec={job.leftSec}
          onStop={job.canStop ? () => void ask((bridge) => bridge.calls.stopJob({ jobId: job.id })) : undefined}
        />
      ))}
    </section>
  );
}
