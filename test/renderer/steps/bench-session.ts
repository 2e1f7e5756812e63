import { emptySession, type Placement, type Session } from '../../../core/session/schema.ts';

/** A placement at 1 s, found by a clap and by notes that agree with it. */
export const foundPlacement: Placement = {
  offsetSec: 1,
  driftPpm: 0,
  uncertaintySec: 0.001,
  driftUncertaintyPpm: 10,
  confidence: 0.95,
  question: null,
  by: 'found',
  evidence: [
    {
      kind: 'clap',
      atSec: 5,
      takeSec: 3.99,
      offsetSec: 1.01,
      uncertaintySec: 0.01,
      weight: 0.2,
      accepted: true,
      note: 'A clap.',
    },
    {
      kind: 'onsets',
      atSec: 20,
      takeSec: 19.0025,
      offsetSec: 0.9975,
      uncertaintySec: 0.005,
      weight: 0.8,
      accepted: true,
      note: 'Notes.',
    },
  ],
};

/** A session of `count` voices with a take each, all lying at 1 s. */
export function benchSession(count: number): Session {
  const numbers = Array.from({ length: count }, (_, n) => n + 1);
  return {
    ...emptySession('Test'),
    voices: numbers.map((n) => ({
      id: `voice-${n}`,
      name: `Voice ${n}`,
      role: 'inner',
      colour: n - 1,
      trimDb: 0,
      placeDeg: null,
      muted: false,
      chosenTakeId: null,
      passages: null,
    })),
    takes: numbers.map((n) => ({
      id: `take-${n}`,
      name: `Take ${n}`,
      voiceId: `voice-${n}`,
      clip: { path: `${n}.wav`, sizeBytes: 1, fingerprint: 'a'.repeat(64) },
      silence: null,
      clean: { on: true, character: 'even', rule: 'lsa', fine: null },
      mark: 'none',
      remark: '',
      part: null,
      mend: null,
      placement: foundPlacement,
    })),
  };
}
