import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { LEAST_PART_SEC } from '../../../core/session/take-part.ts';
import { edit } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { TypedSeconds } from './typed-seconds.tsx';

/** Where a take that is a part of its clip begins and ends in it, to be changed; nothing for a whole clip. */
export function PartEdges({ take, facts }: { readonly take: Take; readonly facts: TakeFacts | undefined }) {
  const { part } = take;
  const clipSec = facts?.clipSec ?? 0;
  if (part === null || clipSec === 0 || (part.fromSec === 0 && part.toSec >= clipSec)) return null;
  const set = (fromSec: number, toSec: number): void => {
    if (toSec - fromSec < LEAST_PART_SEC) return;
    edit({ kind: 'setPart', takeId: take.id, part: { fromSec, toSec } }, `part-${take.id}`);
  };
  return (
    <section className="part-edges" aria-label={`Part of the clip that ${take.name} is`}>
      <h3>Part of its clip</h3>
      <p>
        <TypedSeconds
          label={`Where ${take.name} begins in its clip, seconds`}
          value={part.fromSec}
          onChange={(sec) => set(Math.min(sec, clipSec), part.toSec)}
        />{' '}
        –{' '}
        <TypedSeconds
          label={`Where ${take.name} ends in its clip, seconds`}
          value={part.toSec}
          onChange={(sec) => set(part.fromSec, Math.min(sec, clipSec))}
        />{' '}
        s of {clipSec.toFixed(1)} s
      </p>
      <Button small onClick={() => set(0, clipSec)}>
        Use the whole clip
      </Button>
    </section>
  );
}
