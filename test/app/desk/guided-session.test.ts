import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeMidi } from 'midi-file';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cleanClip } from '../../../app/desk/clean-clip.ts';
import { guideFileBeside, guideFileOf, keptGuideFile } from '../../../app/desk/guide-file.ts';
import type { MakeGuideOptions } from '../../../app/desk/guide-request.ts';
import { lineUpClips } from '../../../app/desk/line-up-clips.ts';
import { makeGuide } from '../../../app/desk/make-guide.ts';
import { mixClips } from '../../../app/desk/mix-clips.ts';
import { encodeAudio } from '../../../app/media/encode.ts';
import { type GuidePlan, usualGuide } from '../../../core/guide/guide-plan.ts';
import { GuideSound } from '../../../core/guide/guide-sound.ts';
import type { Score } from '../../../core/guide/score.ts';
import { LoudnessMeter } from '../../../core/loudness/loudness.ts';
import type { PlacementReport, Report } from '../../../core/session/report.ts';
import { parseSession, type Session } from '../../../core/session/schema.ts';
import { Random } from '../../../core/signal/random.ts';
import { decodeWhole } from '../media/clip-kit.ts';
import { testDesk } from '../shell/host/host-kit.ts';
import { type PlayedTake, playTake, type TakeTruth } from './played-takes.ts';

const folder = mkdtempSync(join(tmpdir(), 'partsong-guided-'));
const guide = join(folder, 'round-guide.m4a');
const signal = new AbortController().signal;
const onStep = () => () => undefined;

/** The takes and their truth. The chair of the first is nearer to a clap than to a knock, and before the silence ends. */
const TRUTHS: readonly TakeTruth[] = [
  { name: '1 flute', part: 0, seed: 101, offsetSec: -2.31, driftPpm: 60, knocksSec: [3.2, 5.1, 9.4] },
  { name: '2 viol', part: 1, seed: 102, offsetSec: 0.44, driftPpm: -60, leak: 0.004 },
  { name: '3 lute', part: 2, seed: 103, offsetSec: -7.2, driftPpm: 25, restless: [-7, 1], onlyFirstClap: true },
];

let takes: PlayedTake[] = [];
let plan: GuidePlan;
let report: Report;
let session: Session;

beforeAll(async () => {
  const score = join(folder, 'round.mid');
  writeFileSync(score, Uint8Array.from(writeMidi(roundOf(3, 20))));
  await makeGuide(guideOptions());
  const file = (await guideFileBeside(guide))!;
  plan = file.plan;
  const sound = soundOf(file.score, plan);
  takes = await Promise.all(TRUTHS.map((truth) => playTake(truth, file.score, plan, sound, folder)));
  const clips = takes.map((take) => take.file);
  const outFolder = join(folder, 'mix');
  ({ report } = await mixClips({
    clips,
    guide,
    outFolder,
    targetLufs: -16,
    ceilingDbtp: -1,
    character: 'even',
    signal,
    onStep,
  }));
  session = parseSession(readFileSync(join(outFolder, 'session.json'), 'utf8'), 'session.json');
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function guideOptions(): MakeGuideOptions {
  return {
    score: join(folder, 'round.mid'),
    outFolder: folder,
    metre: { beats: 4, unit: 4 },
    bars: 1,
    settings: { ...usualGuide, cue: 'both' },
    temperament: 'equal',
    tonic: 0,
    clickDb: 0,
    droneKey: null,
    ownDb: 0,
    formats: ['m4a'],
    signal,
    onStep,
  };
}

const MOCK_UP = {
  referenceHz: 440,
  temperament: 'equal',
  tonic: 0,
  partGainsDb: {},
  clickDb: 0,
  droneKey: null,
} as const;

/** A piece of our own: walks of steps and leaps from a seed, in quarters and eighths. */
function roundOf(voices: number, bars: number) {
  const tracks = Array.from({ length: voices }, (_, voice) => {
    const random = new Random(7 + voice);
    const events: object[] = [
      { deltaTime: 0, meta: true, type: 'trackName', text: ['Flute', 'Viol', 'Lute'][voice] },
      { deltaTime: 0, type: 'programChange', channel: voice, programNumber: [73, 42, 24][voice] },
      { deltaTime: 0, meta: true, type: 'setTempo', microsecondsPerBeat: 700_000 },
    ];
    const scale = [0, 2, 4, 5, 7, 9, 11];
    let degree = 7 * (3 - voice) + 14;
    for (let at = 0; at < bars * 8; ) {
      const eighths = random.uniform() < 0.4 || at + 2 > bars * 8 ? 1 : 2;
      degree += Math.round(4 * (random.uniform() - 0.5));
      degree = Math.max(16 + 4 * (2 - voice), Math.min(30 + 4 * (2 - voice), degree));
      const noteNumber = 12 * Math.floor(degree / 7) + scale[degree % 7]! + 24;
      events.push({ deltaTime: 0, type: 'noteOn', channel: voice, noteNumber, velocity: 80 });
      events.push({ deltaTime: 120 * eighths, type: 'noteOff', channel: voice, noteNumber, velocity: 0 });
      at += eighths;
    }
    events.push({ deltaTime: 0, meta: true, type: 'endOfTrack' });
    return events;
  });
  return { header: { format: 1 as const, numTracks: voices, ticksPerBeat: 240 }, tracks } as Parameters<
    typeof writeMidi
  >[0];
}

function soundOf(score: Score, guidePlan: GuidePlan): Float32Array {
  const sound = new Float32Array(guidePlan.lengthFrames);
  new GuideSound(score, guidePlan, MOCK_UP).next(sound);
  return sound;
}

/** How late a take lies at a session time, s: what is true there against what the placement says. */
function lateSec(truth: PlayedTake, placement: PlacementReport, sessionSec: number): number {
  const takeSec = (sessionSec - truth.offsetSec) * (1 + truth.driftPpm * 1e-6);
  return placement.offsetSec + takeSec / (1 + placement.driftPpm * 1e-6) - sessionSec;
}

describe('a session played to a guide of our own', () => {
  it('keeps the plan of the guide, encoded as M4A, and its score', async () => {
    expect(session.guide?.plan?.silence).toEqual(plan.silence);
    expect(session.guide?.plan?.cues.map((cue) => cue.clapFrame)).toEqual(plan.cues.map((cue) => cue.clapFrame));
    expect(session.guide?.plan?.voices).toEqual(['Flute', 'Viol', 'Lute']);
    expect(session.guide?.plan?.bars).toHaveLength(20);
    const kept = await keptGuideFile(join(folder, 'mix'), session.guide!.clip.fingerprint);
    expect(kept?.score.parts.map((part) => part.notes.length)).toEqual(
      (await guideFileBeside(guide))!.score.parts.map((part) => part.notes.length),
    );
  });

  it('lies within 9 ms of the truth from its first bar to its last, without a question', () => {
    for (const [index, truth] of takes.entries()) {
      const placement = report.takes[index]!.placement!;
      expect(placement.question, truth.name).toBeNull();
      for (const frame of [plan.musicFrame, (plan.musicFrame + plan.musicEndFrame) / 2, plan.musicEndFrame]) {
        // The mean of 120 notes that scatter by 25 ms strays by 2.3 ms, the clap by 12 ms; the drift adds 2 ms.
        expect(Math.abs(lateSec(truth, placement, frame / 48000)), `${truth.name} at ${frame / 48000} s`).toBeLessThan(
          0.009,
        );
      }
    }
  });

  it('tells the drift to 6 ppm where the guide leaks, and nowhere more surely than it is known', () => {
    const leaking = session.takes[1]!.placement!;
    expect(Math.abs(leaking.driftPpm - takes[1]!.driftPpm)).toBeLessThan(6);
    for (const [index, truth] of takes.entries()) {
      const { driftPpm, driftUncertaintyPpm } = session.takes[index]!.placement!;
      // Two claps by hand 77 s apart, 12 ms each, tell no drift better than 220 ppm.
      expect(Math.abs(driftPpm - truth.driftPpm), truth.name).toBeLessThan(3 * driftUncertaintyPpm);
    }
  });

  it('finds the clap in the gap after three soft beats, at both ends, and no chair before it', () => {
    for (const [index, truth] of takes.entries()) {
      const claps = report.takes[index]!.placement!.evidence.filter((one) => one.kind === 'clap');
      expect(
        claps.map((one) => one.atSec).sort((a, b) => a - b),
        truth.name,
      ).toEqual(plan.cues.slice(0, truth.clapsSec.length).map((cue) => cue.clapFrame / 48000));
      for (const clap of claps) {
        const clapped = truth.clapsSec[clap.atSec === plan.cues[0]!.clapFrame / 48000 ? 0 : 1]!;
        const takeSec = (clapped - truth.offsetSec) * (1 + truth.driftPpm * 1e-6);
        // A burst of noise begins softly by chance, and AAC smears it; a chair is seconds away.
        expect(Math.abs(clap.takeSec - takeSec), truth.name).toBeLessThan(0.004);
      }
    }
  });

  it('learns the noise where the guide has its silence, even where a rustle makes another stretch look better', () => {
    for (const [index, truth] of takes.entries()) {
      const silence = report.takes[index]!.silence!;
      const inTake = (frame: number): number => (frame / 48000 - truth.offsetSec) * (1 + truth.driftPpm * 1e-6);
      expect(silence.how, truth.name).toBe('guide');
      const from = Math.max(0, inTake(plan.silence.fromFrame));
      const to = inTake(plan.silence.toFrame);
      const shared = Math.min(to, silence.toSec) - Math.max(from, silence.fromSec);
      expect(shared, truth.name).toBeGreaterThan(0.5 * Math.min(to - from, silence.toSec - silence.fromSec));
    }
  });

  it('places takes as `lineup` does, and `clean` learns from the same silence', async () => {
    const { takes: placed } = await lineUpClips({ clips: [takes[1]!.file], guide, onStep });
    expect(placed[0]!.placement!.offsetSec).toBeCloseTo(report.takes[1]!.placement!.offsetSec, 9);
    const out = join(folder, 'clean.wav');
    const cleaned = await cleanClip({
      clip: takes[1]!.file,
      out,
      guide,
      rule: 'lsa',
      character: 'even',
      signal,
      onStep,
    });
    expect(cleaned.silence).toEqual(report.takes[1]!.silence);
    const noPlan = cleanClip({
      clip: takes[1]!.file,
      out,
      guide: takes[0]!.file,
      rule: 'lsa',
      character: 'even',
      signal,
      onStep,
    });
    await expect(noPlan).rejects.toThrow(/no \.guide\.json/);
  });

  it('has no plan where the guide was cut since, and says so', async () => {
    const whole = { file: guide, lengthFrames: plan.lengthFrames + 1024, rateHz: 48000 };
    expect((await guideFileOf(whole)).file?.plan).toEqual(plan);
    const cut = await guideFileOf({ ...whole, lengthFrames: plan.lengthFrames - 60_000 });
    expect(cut.file).toBeUndefined();
    expect(cut.notes.join(' ')).toMatch(/another length/);
    expect(await guideFileOf({ ...whole, file: takes[0]!.file })).toEqual({ file: undefined, notes: [] });
  });

  it('keeps plan and score on the open desk too, where placements and silences come out as in the mix', async () => {
    const desk = testDesk();
    try {
      await desk.call('newSession', { title: 'Round', folder: join(folder, 'desk') });
      await desk.call('setGuide', { file: guide });
      await desk.call('addClips', { files: takes.map((take) => take.file), voiceId: null });
      await desk.idle();
      const live = desk.host.live!;
      const open = live.desk.session;
      expect(open.guide?.plan).toEqual(session.guide?.plan);
      expect((await keptGuideFile(live.desk.folder, open.guide!.clip.fingerprint))?.title).toBe('round');
      for (const [index, take] of open.takes.entries()) {
        expect(take.placement!.offsetSec).toBeCloseTo(session.takes[index]!.placement!.offsetSec, 9);
        expect(live.view().takes[take.id]!.clean.silence).toEqual(report.takes[index]!.silence);
      }
      // Another guide, without a plan, leaves none; undo brings it back.
      await desk.call('setGuide', { file: takes[0]!.file });
      expect(live.desk.session.guide?.plan).toBeNull();
      await desk.call('undo', {});
      expect(live.desk.session.guide?.plan).toEqual(session.guide?.plan);
    } finally {
      await desk.host.close();
    }
  });

  it('sounds in the next guide by its own takes, as loud as the mock-up, at their place, without claps and knocks', async () => {
    const outFolder = join(folder, 'along');
    const options = { ...guideOptions(), outFolder, forVoice: 'lute', ownDb: Number.NEGATIVE_INFINITY };
    const made = await makeGuide({
      ...options,
      score: undefined,
      session: join(folder, 'mix'),
      settings: { ...usualGuide, silenceSec: 3, click: 'none' },
      formats: ['wav'],
    });
    expect(made.played).toEqual(['Flute', 'Viol', 'Lute']);
    const along = (await decodeWhole(join(outFolder, made.files[0]!.file))).channels[0]!;
    const next = (await guideFileBeside(join(outFolder, made.files[0]!.file)))!;
    const mockUp = new Float32Array(along.length);
    new GuideSound(next.score, next.plan, { ...MOCK_UP, partGainsDb: { [next.score.parts[2]!.id]: -Infinity } }).next(
      mockUp,
    );
    const music = [next.plan.musicFrame, next.plan.musicEndFrame] as const;
    const own = along.subarray(...music);
    const pale = mockUp.subarray(...music);
    // Gated loudness is matched voice by voice; two voices that scatter against each other add up to within 1 LU.
    expect(Math.abs(lufs(own) - lufs(pale))).toBeLessThan(1);
    expect(Math.abs(lateByMs(own, pale))).toBeLessThan(20);
    // Between the count-in, which is a click, and the silence nothing but the guide's own tones: no clap of a take.
    const gap = along.subarray(next.plan.cues[0]!.clapFrame - 4800, next.plan.cues[0]!.toFrame);
    const quiet = mockUp.subarray(next.plan.cues[0]!.clapFrame - 4800, next.plan.cues[0]!.toFrame);
    expect(Math.max(...gap.map((value, n) => Math.abs(value - quiet[n]!)))).toBeLessThan(1e-4);
  });

  it('takes a clip by name, finds its place, and leaves the mock-up where a clip is none of the piece', async () => {
    const other = join(folder, 'other.m4a');
    await encodeAudio({ kind: 'blocks', blocks: noise(), rateHz: 48000, channels: 1 }, other, { format: 'm4a' });
    const made = await makeGuide({
      ...guideOptions(),
      outFolder: join(folder, 'along 2'),
      with: [
        { voice: 'viol', clip: takes[1]!.file },
        { voice: 'lute', clip: other },
      ],
      formats: ['wav'],
    });
    expect(made.played).toEqual(['Viol']);
    expect(made.notes.join(' ')).toMatch(/other\.m4a does not sound in the guide/);
    const otherTempo = makeGuide({
      ...guideOptions(),
      outFolder: join(folder, 'along 3'),
      quartersPerMinute: 60,
      session: join(folder, 'mix'),
    });
    await expect(otherTempo).rejects.toThrow(/another tempo/);
  });
});

async function* noise(): AsyncGenerator<Float32Array[]> {
  const random = new Random(5);
  for (let sec = 0; sec < 20; sec++) yield [Float32Array.from({ length: 48000 }, () => 0.01 * random.gaussian())];
}

function lufs(samples: Float32Array): number {
  const meter = new LoudnessMeter({ rateHz: 48000, channels: 1, truePeak: 'off' });
  meter.add([samples]);
  return meter.result().integratedLufs;
}

/** How late one sound is against another, ms, by their levels every millisecond. */
function lateByMs(one: Float32Array, other: Float32Array): number {
  const levels = (samples: Float32Array): Float64Array => {
    const count = Math.floor(samples.length / 48);
    const level = Float64Array.from({ length: count }, (_, n) => {
      let sum = 0;
      for (let i = 0; i < 48; i++) sum += Math.abs(samples[48 * n + i]!);
      return sum;
    });
    const smooth = level.map((_, n) => level.subarray(n, n + 10).reduce((sum, value) => sum + value, 0));
    return smooth.map((value, n) => Math.max(0, value - (smooth[n - 10] ?? value)));
  };
  const a = levels(one);
  const b = levels(other);
  let best = -Infinity;
  let at = 0;
  for (let lag = -80; lag <= 80; lag++) {
    let sum = 0;
    for (let n = 80; n < b.length - 80; n++) sum += a[n + lag]! * b[n]!;
    if (sum > best) [best, at] = [sum, lag];
  }
  return at;
}
