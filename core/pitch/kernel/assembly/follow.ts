/** All that follows the pitch, call by call: what the ear hears, its windows judged, the way through them, and what repeats at its pitch. */

import {
  addSteps, firstNeeded, MOST_WAITING, planBreaks, settlePeriods, STEPS_PER_HOP, tellBreaks, tellSteps, told,
} from './breaks';
import { choose, deepest, found, lags, planCandidates, probabilities, thresholds } from './candidates';
import {
  add, brightPowers, dips, dipsFound, filled, flush, forget, heard, lookAt, PIECE, powers, rest, spectra, stepPowers, stepsEnded,
} from './ear';
import { BINS_BYTES, DEPTHS_BEHIND, SIZE } from './look';
import { addFrame, beginPath, planPath, settled, settledHz, settleRest, tellPath } from './path';
import { HZ, OWN_BYTES, planRefine, PROBABILITY, RECORD, refine, useSpectra, useWindows } from './refine';
import { claim, room, tell } from './room';
import { beginSlow, makeSlowRoom, nextSlow, planSlow, refineSlow, tellSlow } from './slow';

/** As in core/pitch/script-follower.ts. */
const LOW_HZ: f64 = 90;
const LOW_SHARE: f64 = 0.02;
const SLOW_HZ: f64 = 36;
const SILENT_POWER: f64 = 1e-9;
/** Most frames that one call looks at: each is 80 heard numbers and more. */
const MOST_LOOKED: i32 = 256;
/** Most steps that end in one call's several turns. */
const MOST_STEPS: i32 = 1024;
/** What is no longer needed is dropped when it is so many numbers. */
const DROPPED: i32 = 16384;

let rateHz: f64 = 1;
let hop: i32 = 0;
let ahead: i32 = 0;
/** Length of the row of what is heard, and where in it the take's first number lies; left of it, once it was dropped. */
let heardRoom: i32 = 0;
let origin: i32 = 0;
/** The window of the next frame begins here. */
let begin: i32 = 0;
let place: i32 = 0;
let hasBefore: bool = false;
let own: usize = 0;
let records: usize = 0;
let slowRecord: usize = 0;
/** What the last call told: weighted powers and least differences of frames; powers and brightness of steps; how many of each. */
let weightedRow: usize = 0;
let roughness: usize = 0;
let stepRow: usize = 0;
let brightRow: usize = 0;
let looked: i32 = 0;
let steps: i32 = 0;
let counts: usize = 0;

/**
 * Lays out what follows the pitch; to be called before `plan`. workHz: rate of what is heard; stepFrames: of a step; framesAhead: a window is
 * looked at when it begins so far before what was heard last. Gives the address of the table that kernel-follower.ts reads; 0
 * when there is not enough memory.
 */
export function prepare(
  workHz: f64, stepFrames: i32, framesAhead: i32, heardFrames: i32, firstHeard: i32,
  slowSize: i32, slowFrames: i32, mostSlow: i32,
): usize {
  rateHz = workHz;
  hop = STEPS_PER_HOP * stepFrames;
  ahead = framesAhead;
  heardRoom = heardFrames;
  origin = firstHeard;
  if (!planSlow(slowSize, hop / 5, rateHz, slowFrames, mostSlow)) return 0;
  const table = room(128);
  planCandidates();
  planRefine(max(SIZE, slowSize) / 2 + 1);
  planPath();
  planBreaks(rateHz, stepFrames);
  own = room(OWN_BYTES);
  records = room(5 * RECORD);
  slowRecord = room(RECORD);
  weightedRow = room(<usize>MOST_LOOKED << 3);
  roughness = room(<usize>MOST_LOOKED << 3);
  stepRow = room(<usize>MOST_STEPS << 3);
  brightRow = room(<usize>MOST_STEPS << 3);
  counts = room(64);
  if (!claim()) return 0;
  tellSlow(table);
  tellPath(table + 16);
  tellBreaks(table + 32);
  tell(table + 48, weightedRow, roughness, stepRow, brightRow);
  tell(table + 64, counts, thresholds, 0, 0);
  return table;
}

/** So many frames of the ear's row there have to be: what waits for its pitch to be settled, and a window with what it waits for. */
export function heardNeeded(stepFrames: i32, framesAhead: i32): i32 {
  return MOST_WAITING * STEPS_PER_HOP * stepFrames + 2 * (framesAhead + PIECE) + DROPPED;
}

/** Takes so many input frames, up to a piece. */
export function follow(count: i32): void {
  beginCall();
  makeRoom();
  goOn(add(count), true);
  endCall(false);
}

/** No input comes any more: what waited is heard, and a rest until the last frame is looked at. */
export function followEnd(): void {
  beginCall();
  makeRoom();
  goOn(flush(), true);
  makeRoom();
  goOn(rest(SIZE / 2, true), true);
  makeRoom();
  goOn(rest(ahead - SIZE, false), false);
  settleRest();
  endCall(true);
}

function beginCall(): void {
  looked = 0;
  steps = 0;
  beginPath();
}

/** Drops what nobody needs any more. */
function makeRoom(): void {
  makeSlowRoom();
  const kept = min(begin, origin + firstNeeded());
  if (kept < DROPPED) return;
  forget(kept);
  begin -= kept;
  origin -= kept;
}

/** Goes on to the end of what the ear has heard: so many frames more. */
function goOn(count: i32, isCounted: bool): void {
  if (isCounted) keepSteps();
  for (; begin + ahead <= filled; begin += hop) frame();
}

function keepSteps(): void {
  memory.copy(stepRow + (<usize>steps << 3), stepPowers, <usize>stepsEnded << 3);
  memory.copy(brightRow + (<usize>steps << 3), brightPowers, <usize>stepsEnded << 3);
  addSteps(stepPowers, stepsEnded);
  steps += stepsEnded;
}

function endCall(isEnd: bool): void {
  settlePeriods(settledHz, settled);
  tellSteps(heard + (<usize>origin << 2), isEnd);
  store<i32>(counts, looked);
  store<i32>(counts, settled, 4);
  store<i32>(counts, steps, 8);
  store<i32>(counts, told, 12);
}

function frame(): void {
  place = 1 - place;
  const weighted = lookAt(begin, place);
  choose(dips, DEPTHS_BEHIND, dipsFound);
  judge(0.5 * <f64>SIZE * weighted + 1e-20);
  // 3/8 is the mean square of a Hann window.
  addFrame(records, weighted / (0.375 * <f64>SIZE) + 1e-20 > SILENT_POWER);
  store<f64>(weightedRow + (<usize>looked << 3), weighted);
  store<f64>(roughness + (<usize>looked << 3), deepest);
  looked++;
}

/** Judges the candidates. whole: sum of all bins' powers. */
function judge(whole: f64): void {
  const window = 2 * BINS_BYTES;
  useWindows(own, (SIZE >> 1) + 1, rateHz / <f64>SIZE, <f64>hop / rateHz);
  useSpectra(spectra + <usize>place * window, spectra + <usize>(1 - place) * window, BINS_BYTES, powers, !hasBefore);
  hasBefore = true;
  let low: f64 = 0;
  for (let n = 0, record = records; n < found; n++, record += RECORD) {
    const coarseHz = rateHz / load<f64>(lags + (<usize>n << 3));
    const probability = load<f64>(probabilities + (<usize>n << 3));
    refine(coarseHz, whole, record);
    store<f64>(record, probability, PROBABILITY);
    if (coarseHz < LOW_HZ) low += probability;
  }
  if (low > LOW_SHARE) judgeSlowly();
  nextSlow();
}

/** The longer window judges all candidates; the pitch of the lowest is its own, too. */
function judgeSlowly(): void {
  beginSlow();
  for (let n = 0, record = records; n < found; n++, record += RECORD) {
    refineSlow(rateHz / load<f64>(lags + (<usize>n << 3)), slowRecord);
    const hz = load<f64>(slowRecord, HZ);
    if (hz >= SLOW_HZ) store<f64>(slowRecord, load<f64>(record, HZ), HZ);
    store<f64>(slowRecord, load<f64>(record, PROBABILITY), PROBABILITY);
    memory.copy(record, slowRecord, RECORD);
  }
}
