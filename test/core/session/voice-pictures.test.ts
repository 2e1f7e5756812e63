import { describe, expect, it } from 'vitest';
import { apply } from '../../../core/session/edit.ts';
import { emptySession, type Placement, type Session, type Take } from '../../../core/session/schema.ts';
import { sessionPictures } from '../../../core/session/voice-pictures.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { clipPicture } from '../picture/clip-kit.ts';

const SPAN = { fromSec: 0, toSec: 100 };
const BENDS = [
  { takeSec: 20, jumpSec: 0.02, driftPpm: 40 },
  { takeSec: 60, jumpSec: 3, driftPpm: 40 },
];

function sessionWith(bends: Placement['bends'], part: Take['part'] = null): Session {
  const placement: Placement = {
    offsetSec: 1.5,
    driftPpm: 40,
    ...(bends === undefined ? {} : { bends }),
    uncertaintySec: 0.001,
    driftUncertaintyPpm: 1,
    confidence: 1,
    question: null,
    by: 'found',
    evidence: [],
  };
  const take: Take = {
    id: 'a',
    name: 'descant 1',
    voiceId: 'v',
    clip: { path: 'a.mp4', sizeBytes: 1000, fingerprint: 'a'.repeat(64) },
    silence: null,
    clean: { on: true, character: 'even', rule: 'lsa', fine: null },
    placement,
    mark: 'none',
    remark: '',
    part,
    mend: null,
  };
  const voice = {
    id: 'v',
    name: 'descant',
    role: 'inner',
    colour: 0,
    trimDb: 0,
    placeDeg: null,
    muted: false,
    chosenTakeId: null,
    passages: null,
  } as const;
  return [{ kind: 'addVoice', voice } as const, { kind: 'addTake', take } as const].reduce(
    apply,
    emptySession('Canon'),
  );
}

function placeOf(session: Session, changes: Parameters<typeof clipPicture>[0]) {
  return sessionPictures(session, SPAN, () => clipPicture(changes)).voices[0]!.pieces[0]!.place;
}

describe('where the picture of a voice lies', () => {
  it('is where its sound lies, when the two agree and 3 s were cut out of both', () => {
    const place = placeOf(sessionWith(BENDS), { endSec: 90, soundEndSec: 89.95 });
    expect(place).toEqual({ offsetSec: 1.5, driftPpm: 40, bends: BENDS });
  });

  it('has no jump where a recorder dropped 20 ms of sound: after it pictures lie 20 ms before what the sound says', () => {
    const dropped = BENDS.slice(0, 1);
    const place = placeOf(sessionWith(dropped), { endSec: 90, soundEndSec: 89.98 });
    expect(sessionSecOf(place, 50)).toBeCloseTo(
      sessionSecOf({ offsetSec: 1.5, driftPpm: 40, bends: dropped }, 49.98),
      5,
    );
  });

  it('goes with the samples where stamps run 100 ppm apart from them, of a part of a clip too', () => {
    const even = { offsetSec: 1.5, driftPpm: 40 };
    const whole = placeOf(sessionWith(undefined), { soundPpm: 100 });
    expect(sessionSecOf(whole, 80 * 1.0001)).toBeCloseTo(sessionSecOf(even, 80), 9);
    const part = placeOf(sessionWith(undefined, { fromSec: 30, toSec: 90 }), { soundPpm: 100 });
    expect(sessionSecOf(part, 80 * 1.0001)).toBeCloseTo(sessionSecOf(even, 50), 9);
  });
});
