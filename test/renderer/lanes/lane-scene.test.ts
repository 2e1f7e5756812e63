import { describe, expect, it } from 'vitest';
import { tallnessOf } from '../../../renderer/lanes/lane-content.ts';
import { type Lane, laneAt, markAt, neighbourOf, type Scene, sceneOf } from '../../../renderer/lanes/lane-scene.ts';
import { laneInWords } from '../../../renderer/lanes/lane-words.ts';
import { standInBridge } from '../../stand-in/stand-in-bridge.ts';

async function sceneFor(query: string, unfolded: readonly string[] = []): Promise<Scene> {
  const start = await standInBridge(new URLSearchParams(query)).calls.begin({});
  return sceneOf(start.desk!, unfolded, { voicePx: 76, takePx: 52 }, 'levelled', []);
}

describe('the lanes of a session', () => {
  it('lie under each other, 76 px a voice and 52 px an unfolded take', async () => {
    const scene = await sceneFor('takes=3', ['voice-2']);
    expect(scene.lanes.map((lane) => lane.kind)).toEqual(['voice', 'voice', 'take', 'take', 'take', 'voice', 'voice']);
    expect(scene.heightPx).toBe(4 * 76 + 3 * 52);
    expect(laneAt(scene.lanes, 76 * 2 + 52 + 1)?.takeNumber).toBe(2);
    expect(laneAt(scene.lanes, scene.heightPx)).toBeUndefined();
  });

  it('mark silence and clap at session time, moved by the placement', async () => {
    const lane = (await sceneFor('')).lanes[1]!;
    const { offsetSec, driftPpm, evidence } = lane.take!.placement!;
    const drift = 1 + driftPpm * 1e-6;
    const clap = evidence.find((one) => one.kind === 'clap')!;
    expect(driftPpm).toBe(12);
    expect(lane.silence?.fromSec).toBeCloseTo(offsetSec + 1 / drift, 9);
    expect(lane.clapSec).toBeCloseTo(offsetSec + clap.takeSec / drift, 9);
  });

  it('find the whole silence or music under a point', async () => {
    const lane = (await sceneFor('')).lanes[0]!;
    expect(markAt(lane, 2)?.toSec).toBeCloseTo(3.6, 9);
    expect(markAt(lane, 30)).toEqual({ fromSec: 8, toSec: 59 });
    expect(markAt(lane, 5)).toBeNull();
  });

  it('show the guide behind a take that is moved, else the nearest voice', async () => {
    expect(neighbourOf(await sceneFor('guide'), 'take-2')?.kind).toBe('guide');
    expect(neighbourOf(await sceneFor(''), 'take-2')?.voice?.id).toBe('voice-1');
    expect(neighbourOf(await sceneFor('voices=1'), 'take-1')).toBeNull();
  });

  it('read out name, role, take, place, silence and what to look at', async () => {
    const words = (await sceneFor('takes=3')).lanes.map((lane: Lane) => laneInWords(lane));
    expect(words[0]).toContain(
      'Soprano recorder, lead, take 1 of 3, placed at −0:00.400, silence from 0:00.6 to 0:03.6',
    );
    expect(words[2]).toContain('look here: The clap and the notes disagree by 40 ms');
  });

  it('say in words why a take cannot be heard', async () => {
    const lanes = (await sceneFor('missing&faulty')).lanes;
    expect(lanes[1]!.words).toBe('The clip is missing: its file is not where it was.');
    expect(lanes[2]!.words).toBe('The clip take-3.m4a has no sound in it.');
    expect(laneInWords(lanes[1]!)).toContain('The clip is missing');
    expect(lanes[0]!.words).toBeNull();
  });

  it('draw quiet takes taller, by 10 dB at -24 LUFS and never by more than 24 dB', () => {
    expect(20 * Math.log10(tallnessOf(-24))).toBeCloseTo(10, 9);
    expect(20 * Math.log10(tallnessOf(-70))).toBeCloseTo(24, 9);
    expect(tallnessOf(-8)).toBe(1);
    expect(tallnessOf(null)).toBe(1);
  });
});
