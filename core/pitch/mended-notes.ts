import type { HeardNote } from './heard-notes.ts';
import { mendCentsAt, mendsAnything, type TakeMend, unwarpedTakeSec, warpedTakeSec } from './mend.ts';
import { centsOf, type PitchRow } from './pitch-span.ts';

/**
 * The pitch of a take as it is after mending, from what was tracked before it: notes and curve moved by the mend's own cents and
 * nudges, so that nothing needs to be listened to again. Times of the mended take. Held against tracking the mended sound
 * (test/core/pitch/mended-notes.test.ts): within 1 cent and, in nudged stretches, 2 ms; in the glides beside them within 14 ms and 4 cents,
 * after them within 4 ms. A moved pitch leaves notes up to 20 ms from there (see MendPlan.farthestSec).
 */
export function mendedNotes<Tracked extends { readonly notes: readonly HeardNote[] }>(
  tracked: Tracked,
  row: PitchRow,
  mend: TakeMend | null,
): { readonly tracked: Tracked; readonly row: PitchRow } {
  if (!mendsAnything(mend)) return { tracked, row };
  const { hopSec, firstSec } = row;
  const hz = row.hz.map((_, n) => {
    const takeSec = unwarpedTakeSec(mend, firstSec + n * hopSec);
    const was = row.hz[Math.round((takeSec - firstSec) / hopSec)] ?? Number.NaN;
    return was * 2 ** (mendCentsAt(mend, takeSec) / 1200);
  });
  const notes = tracked.notes.map((note): HeardNote => {
    const moved = note.hz * 2 ** (mendCentsAt(mend, 0.5 * (note.fromSec + note.toSec)) / 1200);
    return {
      ...note,
      fromSec: warpedTakeSec(mend, note.fromSec),
      toSec: warpedTakeSec(mend, note.toSec),
      onsetSec: warpedTakeSec(mend, note.onsetSec),
      hz: moved,
      cents: centsOf(moved),
    };
  });
  return { tracked: { ...tracked, notes }, row: { hopSec, firstSec, hz } };
}
