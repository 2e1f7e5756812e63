import { useBringing } from '../frame/bring-in.ts';
import { Progress } from '../parts/progress.tsx';

/** Clips on their way to the desk; nothing while there are none. */
export function BringingLine() {
  const { title, fraction } = useBringing();
  return (
    <div role="status" className="bringing-line">
      {title !== '' && <Progress title={title} fraction={fraction} leftSec={null} />}
    </div>
  );
}
