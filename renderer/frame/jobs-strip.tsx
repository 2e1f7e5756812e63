import { ask, useView } from '../desk/desk-store.ts';
import { Progress } from '../parts/progress.tsx';
import { useBringing } from './bring-in.ts';

/** All work in the background, with how long it still takes and a way to stop it. */
export function JobsStrip() {
  const jobs = useView().jobs;
  const bringing = useBringing();
  return (
    <section className="jobs" aria-label="Work in the background">
      <p className="unseen" role="status">
        {[bringing.title, ...jobs.map((job) => job.title)].filter((title) => title !== '').join(', ')}
      </p>
      {bringing.title !== '' && <Progress title={bringing.title} fraction={bringing.fraction} leftSec={null} />}
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
