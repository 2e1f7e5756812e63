import { type Clock, takeSecOf } from '../../../core/signal/clock.ts';
import { Random } from '../../../core/signal/random.ts';
import { type Sound, soundOf } from '../../../core/signal/sound.ts';
import { addClap, addClick, addNoise, addNotes, type Guide, type Note, RATE_HZ, Turn } from './invented-session.ts';

/** A take whose clock may run off, change its speed and lose or double sound. */
export interface BentTakePlan {
  readonly seed: number;
  /** Where it truly lies; its bends in the take's own time, in order. */
  readonly clock: Clock;
  /** Scatter of single notes, s; neighbours share some of it (correlation 0.45, as measured on takes). */
  readonly noteSpreadSec: number;
  /** Slow wander of the player about the beat, s, changing within a minute or so. */
  readonly wanderSec: number;
  /** Mean of the player against the beat, s. */
  readonly meanSec?: number;
  /** Session times of claps. */
  readonly clapsSec: readonly number[];
  readonly noise: number;
  /** Level of the guide's leakage, linear; 0 for none. */
  readonly bleed: number;
  /** Pitch of its notes over the guide's; 1 where absent. */
  readonly pitch?: number;
}

/** Plays the guide's notes on a bent clock: as on an even one, and then with what was lost cut out and what was doubled put in. */
export function inventBentTake(guide: Guide, plan: BentTakePlan): Sound {
  const random = new Random(plan.seed);
  const jumps = (plan.clock.bends ?? []).filter((bend) => bend.jumpSec !== 0);
  const even = withoutJumps(plan.clock);
  const lengthSec = takeSecOf(even, guide.secondCueSec + 1.5);
  const samples = new Float32Array(Math.round(lengthSec * RATE_HZ));
  addNoise(samples, plan.noise, random);
  const played = asPlayed(guide.notes, plan, random);
  for (const note of played) addPlayed(samples, takeSecOf(even, note.atSec), note, random);
  for (const clap of plan.clapsSec) addClap(samples, takeSecOf(even, clap), 0.3, random);
  if (plan.bleed > 0) addLeak(samples, guide, even, plan.bleed);
  return soundOf(cut(samples, jumps), RATE_HZ);
}

function asPlayed(notes: readonly Note[], plan: BentTakePlan, random: Random): Note[] {
  let stray = random.gaussian();
  let wander = random.gaussian();
  let before = notes[0]?.atSec ?? 0;
  return notes.map((note) => {
    stray = 0.45 * stray + Math.sqrt(1 - 0.45 ** 2) * random.gaussian();
    const kept = Math.exp(-(note.atSec - before) / 30);
    before = note.atSec;
    wander = kept * wander + Math.sqrt(1 - kept * kept) * random.gaussian();
    const apart = (plan.meanSec ?? 0) + plan.noteSpreadSec * stray + plan.wanderSec * wander;
    return { ...note, hz: note.hz * (plan.pitch ?? 1), atSec: note.atSec + apart };
  });
}

function addOnClock(to: Float32Array, clock: Clock, note: Note, gain: number, attackSec: number): void {
  const leadSec = takeSecOf(clock, note.atSec) - note.atSec;
  addNotes(to, [note], gain, { leadSec, driftPpm: 0 }, attackSec);
}

/**
 * A note as an instrument plays it: a little out of tune with the guide, with partials of its own. Sine and cosine of the vibrato's
 * 0.4 rad and less by their series, whose next terms are below 1e-14: half of the time of these tests went into making sounds.
 */
function addPlayed(to: Float32Array, atSec: number, note: Note, random: Random): void {
  const hz = note.hz * (1 + 0.006 * random.gaussian());
  const phase = 2 * Math.PI * random.uniform();
  const count = Math.round(note.lengthSec * RATE_HZ);
  const first = Math.ceil(atSec * RATE_HZ);
  const from = Math.max(0, -first);
  const even = new Turn((2 * Math.PI * hz * from) / RATE_HZ, (2 * Math.PI * hz) / RATE_HZ);
  const vibrato = new Turn((2 * Math.PI * 5 * from) / RATE_HZ, (2 * Math.PI * 5) / RATE_HZ);
  const phaseSin = Math.sin(phase);
  const phaseCos = Math.cos(phase);
  for (let n = from; n < count && first + n < to.length; n++, even.next(), vibrato.next()) {
    const rise = Math.min(1, n / RATE_HZ / 0.02) * Math.min(1, (count - n) / (0.02 * RATE_HZ));
    const off = 0.4 * vibrato.sin;
    const square = off * off;
    const offSin =
      off * (1 - (square / 6) * (1 - (square / 20) * (1 - (square / 42) * (1 - (square / 72) * (1 - square / 110)))));
    const offCos =
      1 -
      (square / 2) *
        (1 - (square / 12) * (1 - (square / 30) * (1 - (square / 56) * (1 - (square / 90) * (1 - square / 132)))));
    const sin = even.sin * offCos + even.cos * offSin;
    const cos = even.cos * offCos - even.sin * offSin;
    const sin2 = 2 * sin * cos;
    const cos2 = cos * cos - sin * sin;
    const sin3 = sin2 * cos + cos2 * sin;
    const cos3 = cos2 * cos - sin2 * sin;
    const second = sin2 * phaseCos + cos2 * phaseSin;
    const third = sin3 * phaseCos - cos3 * phaseSin;
    const fifth = sin3 * cos2 + cos3 * sin2;
    to[first + n]! += 0.15 * rise * (sin + 0.5 * second + 0.25 * third + 0.1 * fifth);
  }
}

function addLeak(to: Float32Array, guide: Guide, clock: Clock, gain: number): void {
  for (const cue of [guide.cueSec, guide.secondCueSec]) addClick(to, takeSecOf(clock, cue), 1000, 0.5 * gain, 0.1);
  for (const click of guide.clicks) addClick(to, takeSecOf(clock, click), 1500, 0.5 * gain, 0.03);
  for (const note of guide.notes) addOnClock(to, clock, note, 0.1 * gain, 0.01);
}

/** The clock as it would run had nothing been lost or doubled: bends in the time of that take. */
function withoutJumps(clock: Clock): Clock {
  let lost = 0;
  const bends = (clock.bends ?? []).map((bend) => {
    const takeSec = bend.takeSec + lost;
    lost += bend.jumpSec;
    return { takeSec, jumpSec: 0, driftPpm: bend.driftPpm };
  });
  return { offsetSec: clock.offsetSec, driftPpm: clock.driftPpm, bends };
}

function cut(
  samples: Float32Array,
  jumps: readonly { readonly takeSec: number; readonly jumpSec: number }[],
): Float32Array {
  const parts: Float32Array[] = [];
  let from = 0;
  let made = 0;
  for (const { takeSec, jumpSec } of jumps) {
    const until = from + Math.round(takeSec * RATE_HZ) - made;
    parts.push(samples.subarray(from, until));
    made += until - from;
    from = until + Math.round(jumpSec * RATE_HZ);
  }
  parts.push(samples.subarray(from));
  const out = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
