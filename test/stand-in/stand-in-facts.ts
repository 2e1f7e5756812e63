import type { TakeFacts } from '../../app/shell/contract/desk-view.ts';
import type { Session } from '../../core/session/schema.ts';

/** What is known of the nth take: the second is clipped, the third asks, the fourth's silence is in doubt. */
export function inventedFacts(session: Session, takeId: string, n: number, lengthSec: number): TakeFacts {
  return {
    takeId,
    state: 'ready',
    fault: null,
    file: `/home/player/clips/${takeId}.m4a`,
    lengthSec,
    clipSec: lengthSec,
    part: null,
    several: inventedSeveral(n, lengthSec),
    played: null,
    rateHz: 48000,
    codec: 'aac',
    channels: 1,
    hasPicture: n % 2 === 0,
    picture: null,
    peakDbfs: n === 1 ? 0 : -6,
    clipped:
      n === 1
        ? [
            { fromSec: 20, toSec: 20.4 },
            { fromSec: 31, toSec: 31.1 },
          ]
        : [],
    silences: [{ fromSec: 1, toSec: 4 }],
    waves: { before: true, after: true },
    notes: [],
    clean: {
      state: 'ready',
      unfit: null,
      silence: { fromSec: 1, toSec: 4, how: 'found' },
      silenceConfidence: n === 3 ? 0.4 : 0.9,
      noise: {
        levelDbfs: -52,
        reducedDb: 24,
        humHz: n === 0 ? 50 : null,
        harmDb: -34,
        kurtosisRatio: 1.1,
        character: 'even',
        rule: 'lsa',
        spectrum: Array.from({ length: 29 }, (_, band) => ({
          hz: 1000 * 10 ** ((band - 16) / 10),
          beforeDb: -60 - band + (band === 3 ? 15 : 0),
          afterDb: -86 - band,
        })),
      },
      whistlesHz: n === 0 ? [7812] : [],
      lines:
        n === 0
          ? [
              { hz: 50, levelDbfs: -58 },
              { hz: 100, levelDbfs: -63 },
              { hz: 150, levelDbfs: -70 },
            ]
          : [],
      restoredSamples: n === 1 ? 812 : 0,
      backedOff: 0,
      notes: n === 3 ? ['Look here: the silence found may hold more than the room.'] : [],
    },
    mended: (session.takes.find(({ id }) => id === takeId)?.mend ?? null) === null ? 'none' : 'ready',
    mendNotes: [],
    integratedLufs: -24 + n,
    music: { fromSec: 8, toSec: lengthSec - 1 },
    playable: true,
  };
}

/** With `?several` the second voice's clip seems to hold three takes, the first of them broken off. */
function inventedSeveral(n: number, lengthSec: number): TakeFacts['several'] {
  if (n !== 1 || typeof location === 'undefined' || !new URLSearchParams(location.search).has('several')) return null;
  const bounds = [0, 0.18, 0.6, 1].map((share) => share * lengthSec);
  return {
    parts: [0, 1, 2].map((at) => ({
      fromSec: bounds[at]!,
      toSec: bounds[at + 1]!,
      beginsSec: bounds[at]! + 0.04 * lengthSec,
      by: at === 0 ? 'music' : 'clap',
      isBrokenOff: at === 0,
    })),
    outline: Array.from({ length: 480 }, (_, at) => {
      const share = at / 480;
      const isMusic = [
        [0.05, 0.14],
        [0.24, 0.56],
        [0.66, 0.96],
      ].some(([from, to]) => share > from! && share < to!);
      return isMusic ? 0.45 + 0.3 * Math.sin(at / 3) * Math.sin(at / 17) + 0.15 * Math.sin(at * 2.1) : 0.02;
    }),
  };
}
