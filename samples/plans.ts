import type { Room } from './room.ts';
import { type Freedom, PARTS } from './score.ts';
import type { TakePlan } from './take.ts';

/** A sitting room of 4.6 by 3.7 by 2.5 m. Players stand a little differently for every take. */
export const SITTING_ROOM: Room = {
  size: [4.6, 3.7, 2.5],
  t60Sec: 0.42,
  player: [1.9, 1.5, 1.4],
  phone: [2.9, 1.9, 1.15],
  seed: 4101,
};

const BLOWN: Freedom = { timingSdSec: 0.018, pitchSdCents: 5, tuningCents: 0, aheadSec: 0.01 };
const BOWED: Freedom = { timingSdSec: 0.02, pitchSdCents: 5, tuningCents: 0, aheadSec: 0.022 };

/** The four takes of the session and what is wrong with each. */
export const PLANS: readonly TakePlan[] = [
  {
    // Too loud: the top notes are cut off. A fan runs, and the telephone is knocked before the guide begins.
    file: '1 Descant recorder.m4a',
    part: PARTS[0]!,
    seed: 101,
    freedom: { ...BLOWN, tuningCents: 5 },
    room: SITTING_ROOM,
    phone: { lowCutHz: 95, humpHz: 3400, humpDb: 2.5, highCutHz: 15500 },
    rateHz: 48000,
    channels: 1,
    bitRateKbps: 96,
    offsetSec: -2.731,
    driftPpm: -31,
    afterSec: 0.9,
    noise: 'fan',
    snrDb: 25,
    peakDbfs: 2.2,
    clapDb: 1,
    events: [
      { kind: 'rub', atSec: -2.6, levelDb: -17 },
      { kind: 'knock', atSec: -0.95, levelDb: -5 },
    ],
    bleedDb: null,
  },
  {
    // Mains hum from a lamp; the same microphone on both channels; the clip is turned.
    file: '2 Tenor recorder.mov',
    part: PARTS[1]!,
    seed: 202,
    freedom: { ...BLOWN, tuningCents: -6 },
    room: { ...SITTING_ROOM, player: [1.8, 1.7, 1.35], seed: 4102 },
    phone: { lowCutHz: 70, humpHz: 3900, humpDb: 2, highCutHz: 16000 },
    rateHz: 48000,
    channels: 2,
    bitRateKbps: 112,
    offsetSec: -1.948,
    driftPpm: 24,
    afterSec: 0.6,
    noise: 'hum',
    snrDb: 26,
    peakDbfs: -9,
    clapDb: 4,
    events: [
      { kind: 'rub', atSec: -1.9, levelDb: -14 },
      { kind: 'knock', atSec: 9.35, levelDb: -14 },
    ],
    bleedDb: null,
  },
  {
    // A computer whines close by; the telephone records at 44.1 kHz.
    file: '3 Treble viol.m4a',
    part: PARTS[2]!,
    seed: 303,
    freedom: { ...BOWED, tuningCents: 3 },
    room: { ...SITTING_ROOM, player: [2.0, 1.3, 1.1], phone: [2.9, 1.9, 0.95], seed: 4103 },
    phone: { lowCutHz: 85, humpHz: 3100, humpDb: 2, highCutHz: 15000 },
    rateHz: 44100,
    channels: 1,
    bitRateKbps: 96,
    offsetSec: -3.406,
    driftPpm: 47,
    afterSec: 1.2,
    noise: 'whine',
    snrDb: 23,
    peakDbfs: -7,
    clapDb: 5,
    events: [
      { kind: 'rub', atSec: -3.3, levelDb: -12 },
      { kind: 'page', atSec: -1.6, levelDb: -16 },
    ],
    bleedDb: null,
  },
  {
    // Quiet room, open headphones: the guide can be heard faintly. The picture skips.
    file: '4 Bass viol.mov',
    part: PARTS[3]!,
    seed: 404,
    freedom: { ...BOWED, tuningCents: -4 },
    room: { ...SITTING_ROOM, player: [1.9, 1.6, 0.7], phone: [2.7, 2.0, 0.8], seed: 4104 },
    phone: { lowCutHz: 60, humpHz: 3600, humpDb: 3, highCutHz: 15800 },
    rateHz: 48000,
    channels: 1,
    bitRateKbps: 96,
    offsetSec: -2.273,
    driftPpm: -12,
    afterSec: 0.7,
    noise: 'air',
    snrDb: 27,
    peakDbfs: -8,
    clapDb: 4,
    events: [
      { kind: 'rub', atSec: -2.15, levelDb: -13 },
      { kind: 'knock', atSec: -1.2, levelDb: -9 },
    ],
    bleedDb: -40,
  },
];
