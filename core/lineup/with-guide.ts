import type { Sound } from '../signal/sound.ts';
import { alongTake, besideJumps, jumpsOf } from './along-take.ts';
import { type ClapSound, findClapSounds, locateAttack } from './clap.ts';
import type { GuideMap } from './guide-map.ts';
import { hearBleed } from './hear-bleed.ts';
import { type ClapPair, clapPair, standingBeforeMusic } from './known-claps.ts';
import type { LagSearch } from './lag-search.ts';
import { findMusic, likeliestMusic, type Music, withAttackDoubt } from './music-match.ts';
import { musicStart } from './music-start.ts';
import { asClock, asMs } from './sentences.ts';
import { type StandingClap, standingClaps } from './standing-claps.ts';
import type { TraceSource } from './trace.ts';
import { WaveBreaks } from './wave-breaks.ts';
import { mayBeNotes, RARE_DRIFT_PPM, weigh } from './weigh.ts';
import type { Placement, Testimony } from './witness.ts';

/** Spread of a player's clap about the cue, s, one standard deviation (measured on takes: 12 ms, 30 ms at most). */
export const CLAP_SPREAD_SEC = 0.0125;
/** An attack is found to this, s. */
export const ATTACK_ERROR_SEC = 0.0003;
/** Claps this far apart are taken as marks for the drift, s. */
const MARKS_APART_SEC = 45;
/** Claps by hand this far apart are two witnesses, s; nearer ones may be one clap and its echo. */
const CLAPS_APART_SEC = 5;
/** Beats played to a click agree with a clap within this, s. */
const CLAP_MUSIC_SEC = 0.12;
/** A clap is clear from this standing on. */
const CLEAR_STANDING = 0.6;
/** A player claps at most this far from the cue, s. */
const LATE_CLAP_SEC = 0.6;
/** Places one take against the guide. */
export function placeWithGuide(sound: Sound, trace: TraceSource, guide: GuideMap, search: LagSearch): Placement {
  const levels = trace.levels();
  const sounds = findClapSounds(levels);
  const musicSec = musicStart(levels);
  const standing = standingClaps(sounds, musicSec);
  const elsewhere = clapElsewhere(sounds, standing, levels.lengthSec, guide);
  const found = findMusic(trace.rises(), guide, search, elsewhere);
  const pair = guide.marks === undefined ? undefined : clapPair(sounds, guide.marks);
  const known = standingFor(guide, standing, musicSec);
  const isAsked = known !== standing;
  // Against clicks alone beats fit at many places; claps that the plan asks for fit at one.
  const anchor = guide.hasNotes ? undefined : (pair?.first ?? (isAsked ? known[0] : undefined));
  const places = anchor === undefined ? found : nearClap(found, anchor, guide);
  const music = likeliestMusic(places, (place) => nearStarts(sounds, guide, place)[0]?.score ?? 0);
  const claps =
    pair !== undefined && music === undefined
      ? pairTestimonies(sound, pair, guide)
      : matchClaps(sound, sounds, { standing: known, isAsked }, guide, music);
  const testimonies: Testimony[] = [...(music ? [music.testimony] : []), ...claps];
  const first = weigh(testimonies, () => '');
  const assumed = first.kind === 'placed' ? first : first.best;
  const waves = new WaveBreaks(sound);
  const bleed =
    assumed && (music || claps.length > 0) ? hearBleed(sound, guide, assumed, { music, claps, waves }) : undefined;
  const byNotes = jumpsOf(waves, { sound, rises: trace.rises() }, guide.beginnings, music, bleed);
  // Where the guide is heard for sure it tells the clock, however notes begin.
  const isSure = bleed !== undefined && !mayBeNotes(bleed.testimony);
  const notes = music === undefined || isSure ? music : withAttackDoubt(music, levels, guide);
  const weighed = weigh(besideJumps({ music: notes, claps, bleed }, byNotes.jumps), (confidence) =>
    guideQuestion(confidence, sounds.length > 0, music !== undefined),
  );
  return alongTake(weighed, { sound, claps: sounds, cues: guide.cues, music, bleed, byNotes });
}

/** Whether, under a lead, the cue is answered by nothing although the take holds a clear clap before its music. */
function clapElsewhere(
  sounds: readonly ClapSound[],
  standing: readonly StandingClap[],
  lengthSec: number,
  guide: GuideMap,
): (leadSec: number) => boolean {
  const clear = standing.some((clap) => clap.standing >= CLEAR_STANDING);
  return (leadSec) => {
    if (!clear) return false;
    const inside = guide.cues.filter((cue) => leadSec + cue > LATE_CLAP_SEC && leadSec + cue < lengthSec);
    const answered = (cue: number): boolean =>
      sounds.some((clap) => clap.likeness >= 0.35 && Math.abs(clap.atSec - leadSec - cue) < LATE_CLAP_SEC);
    return inside.length > 0 && !inside.some(answered);
  };
}

/** Places of the music that agree with a clap on the first cue. */
function nearClap(found: readonly Music[], clap: ClapSound, guide: GuideMap): Music[] {
  return found.filter((music) => {
    const apart = clap.atSec - music.leadSec - (1 + music.likelyDriftPpm * 1e-6) * guide.cues[0]!;
    return Math.abs(apart) < CLAP_MUSIC_SEC;
  });
}

function pairTestimonies(sound: Sound, { first, last, sureness }: ClapPair, guide: GuideMap): Testimony[] {
  // Notes that match nowhere speak against the guide: another piece as long has its cues as far apart.
  const together = Math.min(0.93, (guide.hasNotes ? 0.45 : 0.95) * sureness);
  // The two are one piece of evidence: believed together they are to be as sure as the pair.
  const trust = 1 - Math.sqrt(1 - together);
  return [
    clapTestimony(sound, { clap: first, startSec: guide.cues[0]!, score: sureness }, trust),
    clapTestimony(sound, { clap: last, startSec: guide.cues.at(-1)!, score: sureness }, trust),
  ];
}

function standingFor(
  guide: GuideMap,
  standing: readonly StandingClap[],
  musicSec: number | undefined,
): readonly StandingClap[] {
  return guide.marks === undefined ? standing : standingBeforeMusic(standing, musicSec, guide.marks);
}

interface ClapMatch {
  readonly clap: ClapSound;
  readonly startSec: number;
  readonly score: number;
}

function matchClaps(
  sound: Sound,
  sounds: readonly ClapSound[],
  { standing, isAsked }: { readonly standing: readonly StandingClap[]; readonly isAsked: boolean },
  guide: GuideMap,
  music: Music | undefined,
): Testimony[] {
  const cue = guide.cues[0] ?? guide.starts[0];
  if (cue === undefined) return [];
  const matches = music ? nearStarts(sounds, guide, music) : byStanding(standing, cue);
  const best = matches[0];
  if (!best) return [];
  const rival = matches.find((match) => Math.abs(match.clap.atSec - best.clap.atSec) > 0.1);
  const clear = music ? 1 : best.score / (best.score + 1.5 * (rival?.score ?? 0));
  // Notes that match nowhere speak against the guide itself; clicks alone say nothing, and the plan's own time to the music
  // speaks for the clap.
  const unmatched = guide.hasNotes ? 0.45 : isAsked ? 0.8 : 0.65;
  const likely = music ? 0.95 * (0.5 + 0.5 * music.testimony.trust) : unmatched;
  const trust = Math.min(0.9, likely * clear * Math.sqrt(best.clap.likeness));
  const out = [clapTestimony(sound, best, trust)];
  const second = matches.find(
    (match) =>
      guide.cues.includes(match.startSec) &&
      Math.abs(match.startSec - best.startSec) > (guide.marks !== undefined ? CLAPS_APART_SEC : MARKS_APART_SEC) &&
      match.clap.likeness > 0.5 * best.clap.likeness,
  );
  if (second && music) {
    // A clap by hand strays far more than an attack is found to: it speaks for its own moment, and the line through all
    // witnesses makes of two what they are worth for the drift.
    out.push(
      guide.marks !== undefined
        ? clapTestimony(sound, second, trust)
        : secondMark(sound, second, out[0]!, trust, music),
    );
  }
  return out;
}

function nearStarts(sounds: readonly ClapSound[], guide: GuideMap, music: Music): ClapMatch[] {
  const matches: ClapMatch[] = [];
  // A guide without a cue of its own: the player may have clapped on any of its first beginnings.
  const starts = guide.cues.length > 0 ? guide.cues : guide.starts.slice(0, 4);
  for (const clap of sounds) {
    for (let i = 0; i < starts.length; i++) {
      const startSec = starts[i]!;
      const apart = clap.atSec - music.leadSec - (1 + music.likelyDriftPpm * 1e-6) * startSec;
      const reach = 0.05 + Math.abs(startSec - music.testimony.atSec) * RARE_DRIFT_PPM * 1e-6;
      const spread = Math.hypot(0.02, reach / 3);
      if (Math.abs(apart) > 0.05 + reach) continue;
      const place = i === 0 ? 1 : 0.8;
      const score = clap.likeness * place * Math.exp(-0.5 * (apart / spread) ** 2);
      matches.push({ clap, startSec, score });
    }
  }
  return matches.sort((a, b) => b.score - a.score);
}

/** Where the music says nothing: the last clap before it, as without a guide. */
function byStanding(standing: readonly StandingClap[], startSec: number): ClapMatch[] {
  return standing.map((clap) => ({ clap, startSec, score: clap.standing }));
}

function clapTestimony(sound: Sound, match: ClapMatch, trust: number): Testimony {
  const takeSec = locateAttack(sound, match.clap.atSec);
  return {
    kind: 'clap',
    atSec: match.startSec,
    takeSec,
    uncertaintySec: Math.hypot(CLAP_SPREAD_SEC, ATTACK_ERROR_SEC),
    trust,
    note:
      `The clap at ${asClock(takeSec)} of the take answers the cue at ${asClock(match.startSec)} of the guide; ` +
      `a clap by hand is good to about ${asMs(CLAP_SPREAD_SEC)}.`,
  };
}

/** Two claps minutes apart mark the drift, unless the notes between them contradict: then they are two claps by hand. */
function secondMark(sound: Sound, match: ClapMatch, first: Testimony, trust: number, music: Music): Testimony {
  const second = clapTestimony(sound, match, trust);
  const span = second.atSec - first.atSec;
  const driftPpm = ((second.takeSec - first.takeSec) / span - 1) * 1e6;
  const driftUncertaintyPpm = ((Math.SQRT2 * ATTACK_ERROR_SEC) / Math.abs(span)) * 1e6;
  const contradicted = Math.abs(driftPpm - music.slopePpm) > 3 * music.slopeErrorPpm;
  if (Math.abs(driftPpm) > 1.4 * RARE_DRIFT_PPM || contradicted) return second;
  return { ...second, driftPpm, driftUncertaintyPpm, note: `${second.note} Two claps far apart tell the drift.` };
}

function guideQuestion(confidence: number, anySharpSound: boolean, music: boolean): string {
  const why = music
    ? 'The notes seem to match the guide, but something else contradicts it.'
    : anySharpSound
      ? 'The notes of this take do not match the guide, and none of its sharp sounds is surely the clap.'
      : 'There is no clap in this take, and its notes do not match the guide.';
  const hint = confidence > 0 ? 'Listen at the place offered here and' : 'Please';
  return `${why} ${hint} say where the take belongs, or check that it was played to this guide.`;
}
