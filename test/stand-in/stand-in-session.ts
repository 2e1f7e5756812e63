import { emptySession, type Session } from '../../core/session/schema.ts';
import { inventedPlan } from './stand-in-guide.ts';
import { inventedPlacement } from './stand-in-trail.ts';

const NAMES = ['Soprano recorder', 'Alto recorder', 'Tenor viol', 'Bass viol'];

/** Voices with a take each, all placed; the third asks a question. */
export function inventedSession(count: number): Session {
  const numbers = Array.from({ length: count }, (_, n) => n);
  return {
    ...emptySession('Evening canon'),
    voices: numbers.map((n) => ({
      id: `voice-${n + 1}`,
      name: NAMES[n] ?? `Voice ${n + 1}`,
      role: n === 0 ? 'lead' : n === 3 ? 'bass' : 'inner',
      colour: n % 6,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: `take-${n + 1}`,
      passages: null,
    })),
    takes: numbers.map((n) => ({
      id: `take-${n + 1}`,
      name: `0${n + 1} ${NAMES[n] ?? 'voice'}`,
      voiceId: `voice-${n + 1}`,
      clip: { path: `clips/take-${n + 1}.m4a`, sizeBytes: 1_000_000, fingerprint: 'a'.repeat(64) },
      silence: null,
      clean: { on: true, character: 'even', rule: 'lsa', fine: null },
      mark: 'none',
      remark: '',
      part: null,
      mend: null,
      placement: {
        offsetSec: (n % 4) * 0.35 - 0.4,
        driftPpm: 12 * n,
        uncertaintySec: n === 2 ? 0.04 : 0.0004,
        driftUncertaintyPpm: 5,
        confidence: n === 2 ? 0.4 : 0.95,
        question: n === 2 ? 'The clap and the notes disagree by 40 ms; listen and choose.' : null,
        by: 'found',
        evidence: [
          {
            kind: 'clap',
            atSec: 4.6,
            takeSec: (5 - (n % 4) * 0.35) * (1 + 12e-6 * n),
            offsetSec: (n % 4) * 0.35 - 0.4,
            uncertaintySec: 0.012,
            weight: 0.3,
            accepted: true,
            note: 'The clap was found where the guide has its cue.',
          },
          {
            kind: 'onsets',
            atSec: 20,
            takeSec: (20.4 - (n % 4) * 0.35) * (1 + 12e-6 * n) + (n === 2 ? 0.041 : 0),
            offsetSec: (n % 4) * 0.35 - 0.4 - (n === 2 ? 0.041 : 0),
            uncertaintySec: 0.003,
            weight: 0.7,
            accepted: n !== 2,
            note: '64 note beginnings agree with the guide.',
          },
        ],
      },
    })),
  };
}

/** More takes of every voice, of which the first sounds, and a guide. */
export function withMore(session: Session, takes: number, query: URLSearchParams): Session {
  const bars = Number(query.get('bars') ?? 0);
  const lengthSec = Number(query.get('length') ?? 60);
  const withTrail = (take: Session['takes'][number], n: number): Session['takes'][number] =>
    query.has('trail') && take.placement !== null
      ? { ...take, placement: inventedPlacement(n, take.placement, lengthSec, query.get('trail') === 'pins') }
      : take;
  const again = Array.from({ length: Math.max(0, takes - 1) }, (_, n) => n + 2);
  return {
    ...session,
    guide:
      query.has('guide') || bars > 0
        ? {
            clip: { path: 'guide.wav', sizeBytes: 5_000_000, fingerprint: 'b'.repeat(64) },
            plan: bars > 0 ? inventedPlan(bars) : null,
          }
        : null,
    takes: session.takes.map(withTrail).flatMap((take) => [
      take,
      ...again.map((n) => ({
        ...take,
        id: `${take.id}-again-${n}`,
        name: `${take.name}, again ${n}`,
        placement: n === 2 ? take.placement : null,
      })),
    ]),
  };
}
