import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { writeMidi } from 'midi-file';
import { afterEach, describe, expect, it } from 'vitest';
import { keptGuideFile } from '../../../../app/desk/guide-file.ts';
import type { GuideChoice } from '../../../../app/shell/contract/guide-choice.ts';
import { usualGuide } from '../../../../core/guide/guide-plan.ts';
import { type TestDesk, testDesk } from '../../shell/host/host-kit.ts';
import { cleanFolders } from '../desk-kit.ts';
import { playTake } from '../played-takes.ts';
import { writeShortClips } from './short-clips.ts';

cleanFolders();

const open: TestDesk[] = [];

async function emptyDesk(): Promise<TestDesk> {
  const desk = testDesk();
  open.push(desk);
  await desk.call('newSession', { title: 'Morning round', folder: null });
  return desk;
}

afterEach(async () => {
  for (const desk of open.splice(0)) await desk.host.close();
});

/** Two voices, 8 bars of 4/4 at 120 quarters a minute. */
function writeScore(folder: string): string {
  const track = (name: string, key: number) => [
    { deltaTime: 0, meta: true as const, type: 'trackName' as const, text: name },
    ...Array.from({ length: 32 }, (_, n) => [
      { deltaTime: 0, type: 'noteOn' as const, channel: 0, noteNumber: key + [0, 4, 7, 5][n % 4]!, velocity: 90 },
      { deltaTime: 240, type: 'noteOff' as const, channel: 0, noteNumber: key + [0, 4, 7, 5][n % 4]!, velocity: 0 },
    ]).flat(),
    { deltaTime: 0, meta: true as const, type: 'endOfTrack' as const },
  ];
  const file = join(folder, 'round.mid');
  const tracks = [track('Tenor viol', 57), track('Bass viol', 45)];
  writeFileSync(file, Uint8Array.from(writeMidi({ header: { format: 1, numTracks: 2, ticksPerBeat: 240 }, tracks })));
  return file;
}

const choice = (change: Partial<GuideChoice> = {}): GuideChoice => ({
  score: null,
  title: '',
  quartersPerMinute: null,
  metre: { beats: 4, unit: 4 },
  bars: 4,
  settings: { ...usualGuide, silenceSec: 2, tuningSec: 1, countInBars: 1, restingBars: [] },
  temperament: 'equal',
  tonic: 0,
  clickDb: 0,
  drone: false,
  versions: 'one',
  ownDb: 6,
  withTakes: false,
  formats: ['wav'],
  ...change,
});

async function made(desk: TestDesk, wanted: GuideChoice): Promise<void> {
  await desk.call('makeGuide', { choice: wanted });
  await desk.idle();
}

const steps = (desk: TestDesk) => desk.host.view()!.steps;

describe('a guide made on the desk', () => {
  it('is the guide of the session with its plan, brings the voices of its score, and is one step of undo', async () => {
    const desk = await emptyDesk();
    const score = writeScore(desk.home);
    const read = await desk.call('readScore', { file: score });
    expect(read.score.parts.map(({ name, noteCount, lowestKey }) => [name, noteCount, lowestKey])).toEqual([
      ['Tenor viol', 32, 57],
      ['Bass viol', 32, 45],
    ]);
    expect(steps(desk).guide.state).toBe('toDo');
    await made(desk, choice({ score, versions: 'each', ownDb: null }));
    const { session, madeGuide, folder, undoLabel, guide } = desk.host.view()!;
    expect(session.guide?.clip.path).toBe('guide/1/round-guide.wav');
    expect(session.guide?.plan?.bars).toHaveLength(8);
    expect(session.guide?.plan?.voices).toEqual(['Tenor viol', 'Bass viol']);
    expect(session.voices.map(({ name, role }) => [name, role])).toEqual([
      ['Tenor viol', 'inner'],
      ['Bass viol', 'bass'],
    ]);
    expect(guide).toMatchObject({ state: 'ready', waves: { before: true } });
    expect(steps(desk).guide).toMatchObject({ state: 'done', sentence: 'The guide is made: 8 bars.' });
    expect(madeGuide).toMatchObject({ inUse: true, bars: 8 });
    expect(madeGuide!.files.map(({ what, voice }) => [what, voice])).toEqual([
      ['sound', null],
      ['sound', 'Tenor viol'],
      ['sound', 'Bass viol'],
      ['plan', null],
    ]);
    const kept = await keptGuideFile(folder, session.guide!.clip.fingerprint);
    expect(kept!.score.parts[1]!.notes).toHaveLength(32);
    expect(Buffer.from(await desk.bytes('guide/recording-plan.html')).toString()).toContain('Recording plan');
    expect(Buffer.from(await desk.bytes('guide/round-guide.wav')).toString('latin1', 0, 4)).toBe('RIFF');
    expect(await desk.host.media('guide/session.json')).toBeNull();
    expect(undoLabel).toBe('make the guide');
    await desk.call('undo', {});
    await desk.idle();
    expect(desk.host.view()!.session).toMatchObject({ guide: null, voices: [] });
    expect(desk.host.view()!.madeGuide!.inUse).toBe(false);
    await desk.call('redo', {});
    await desk.idle();
    expect(desk.host.view()!.madeGuide!.inUse).toBe(true);
  });

  it('lies in a folder of its own, so that undo finds the one before, and is remembered over a restart', async () => {
    const desk = await emptyDesk();
    await made(desk, choice());
    await made(desk, choice({ quartersPerMinute: 120 }));
    const { folder, session } = desk.host.view()!;
    expect(session.guide?.clip.path).toBe('guide/2/guide.wav');
    expect(session.voices).toEqual([]);
    await desk.call('undo', {});
    await desk.idle();
    expect(desk.host.view()!).toMatchObject({ guide: { state: 'ready' }, madeGuide: { inUse: false } });
    await desk.call('redo', {});
    await desk.call('closeSession', {});
    await desk.call('openSession', { folder });
    expect(desk.host.view()!.madeGuide).toMatchObject({ inUse: true, choice: { quartersPerMinute: 120 } });
  });

  it('leaves nothing when it is stopped, and tells a score that is none at once', async () => {
    const desk = await emptyDesk();
    const { folder } = desk.host.view()!;
    const { jobId } = await desk.call('makeGuide', { choice: choice({ bars: 1500 }) });
    expect(desk.host.view()!.jobs.map(({ kind }) => kind)).toContain('guide');
    expect(steps(desk).guide.busy).toBe(true);
    await desk.call('stopJob', { jobId });
    await desk.idle();
    expect(readdirSync(join(folder, 'guide'))).toEqual([]);
    expect(desk.host.view()!).toMatchObject({ session: { guide: null }, madeGuide: null, jobs: [] });
    const wrong = join(desk.home, 'wrong.mid');
    writeFileSync(wrong, 'no score');
    const fault = await desk.faultOf('makeGuide', { choice: choice({ score: wrong }) });
    expect(fault.code).toBe('score-unreadable');
    expect(desk.host.view()!.jobs).toEqual([]);
  });

  it('can be heard before it is made, for one voice too, and nothing of that stays', async () => {
    const desk = await emptyDesk();
    const score = writeScore(desk.home);
    const first = await desk.call('tryGuide', { choice: choice({ score, versions: 'each' }), voice: 'Bass viol' });
    const heard = await desk.bytes('heard-guide');
    expect(heard.length).toBeGreaterThan(first.lengthSec * 48000 * 2);
    const second = await desk.call('tryGuide', { choice: choice(), voice: null });
    expect(second.stamp).toBeGreaterThan(first.stamp);
    const { folder, session } = desk.host.view()!;
    expect(session.guide).toBeNull();
    expect(existsSync(join(folder, 'guide'))).toBe(false);
  });

  it('lets the takes of the session sound in place of the mock-up, and leaves them in their places', async () => {
    const desk = await emptyDesk();
    const wanted = choice({ score: writeScore(desk.home) });
    await made(desk, wanted);
    const { session, folder } = desk.host.view()!;
    const { plan, score } = (await keptGuideFile(folder, session.guide!.clip.fingerprint))!;
    const truth = { name: 'tenor', part: 0, seed: 3, offsetSec: -0.4, driftPpm: 0 };
    const take = await playTake(truth, score, plan, new Float32Array(plan.lengthFrames), desk.home);
    await desk.call('addClips', { files: [take.file], voiceId: session.voices[0]!.id });
    await desk.idle();
    const before = desk.host.view()!.session;
    await made(desk, { ...wanted, withTakes: true });
    const after = desk.host.view()!;
    expect(after.session).toEqual(before);
    expect(after.madeGuide).toMatchObject({ inUse: true, folder: join(folder, 'guide', '2') });
    const sound = (n: number) => readFileSync(join(folder, 'guide', String(n), 'round-guide.wav'));
    expect(sound(2).length).toBe(sound(1).length);
    expect(sound(2).equals(sound(1))).toBe(false);
  });
});

describe('the sound check of the desk', () => {
  it('lists trials newest first, keeps them over a restart, and lets them be put away; none becomes a take', async () => {
    const desk = await emptyDesk();
    const [first, second] = writeShortClips(desk.home, ['trial one.wav', 'trial two.wav']);
    await desk.call('checkClip', { file: first! });
    await desk.idle();
    await desk.call('checkClip', { file: second! });
    expect(steps(desk).soundCheck.busy).toBe(true);
    await desk.idle();
    const { trials, session, folder } = desk.host.view()!;
    expect(trials.map(({ name, state, guideFound }) => [name, state, guideFound])).toEqual([
      ['trial two', 'checked', null],
      ['trial one', 'checked', null],
    ]);
    expect(trials[0]!.check!.figures.clapSec).toBeCloseTo(3.1, 1);
    expect(steps(desk).soundCheck.sentence).toBe(trials[0]!.check!.verdict);
    expect(session.takes).toEqual([]);
    expect(Buffer.from(await desk.bytes(`trial/${trials[0]!.id}`)).toString('latin1', 0, 4)).toBe('RIFF');
    await desk.call('closeSession', {});
    await desk.call('openSession', { folder });
    expect(desk.host.view()!.trials).toEqual(trials);
    await desk.call('forgetTrial', { trialId: trials[0]!.id });
    expect(desk.host.view()!.trials).toEqual([trials[1]]);
    expect(await desk.host.media(`trial/${trials[0]!.id}`)).toBeNull();
  });

  it('tells a clip that cannot be read, and checks a take that is there already', async () => {
    const desk = await emptyDesk();
    const wrong = join(desk.home, 'wrong.m4a');
    writeFileSync(wrong, 'no media');
    await desk.call('checkClip', { file: wrong });
    await desk.idle();
    expect(desk.host.view()!.trials[0]).toMatchObject({ state: 'faulty', fault: { code: 'not-media' } });
    expect(steps(desk).soundCheck).toMatchObject({ state: 'lookHere' });
    await desk.call('addClips', { files: writeShortClips(desk.home, ['horn.wav']), voiceId: null });
    await desk.idle();
    await desk.call('checkTake', { takeId: 'take-1' });
    await desk.idle();
    expect(desk.host.view()!.trials[0]).toMatchObject({ name: 'horn', takeId: 'take-1', state: 'checked' });
    expect((await desk.faultOf('checkTake', { takeId: 'take-9' })).code).toBe('bad-option');
  });

  it('finds the guide in a trial that was played to it', async () => {
    const desk = await emptyDesk();
    await made(desk, choice({ score: writeScore(desk.home) }));
    const { session, folder } = desk.host.view()!;
    const { plan, score } = (await keptGuideFile(folder, session.guide!.clip.fingerprint))!;
    const truth = { name: 'trial', part: 0, seed: 5, offsetSec: -0.7, driftPpm: 0 };
    const trial = await playTake(truth, score, plan, new Float32Array(plan.lengthFrames), desk.home);
    await desk.call('checkClip', { file: trial.file });
    await desk.idle();
    const [checked] = desk.host.view()!.trials;
    expect(checked).toMatchObject({ state: 'checked', guideFound: true });
    expect(checked!.check!.figures.clapSec).toBeCloseTo(trial.clapsSec[0]! + 0.7, 1);
  });
});
