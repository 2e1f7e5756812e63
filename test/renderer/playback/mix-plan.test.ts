import { beforeAll, describe, expect, it } from 'vitest';
import type { DeskView, TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import { apply, type Edit } from '../../../core/session/edit.ts';
import { planMix, type Wish } from '../../../renderer/playback/mix-plan.ts';
import { standInBridge } from '../../stand-in/stand-in-bridge.ts';

let view: DeskView;
const mix: Wish = { alone: [], audition: null, loop: null, inHand: null };
const never = (): number => 0;

beforeAll(async () => {
  const start = await standInBridge(new URLSearchParams('voices=4&length=60')).calls.begin({});
  view = start.desk!;
});

function edited(change: Edit): DeskView {
  return { ...view, session: apply(view.session, change) };
}

function withFacts(takeId: string, facts: Partial<TakeFacts>): DeskView {
  return { ...view, takes: { ...view.takes, [takeId]: { ...view.takes[takeId]!, ...facts } } };
}

describe('planMix', () => {
  it('takes every voice with its cleaned take, the blend’s gains, its master gain and ceiling', () => {
    const plan = planMix(view, mix, never);
    expect(plan.sources).toEqual(['take-1:after', 'take-2:after', 'take-3:after', 'take-4:after']);
    expect(plan.settings.voices.map((voice) => voice.strip.gainDb)).toEqual([2, 1, 0, -1]);
    expect(plan.settings.voices.every((voice) => voice.heard)).toBe(true);
    expect(plan.settings).toMatchObject({ masterGainDb: 4, spanOpen: false });
    expect(plan).toMatchObject({ ceilingDbtp: -1, endFrame: 60 * 48_000, span: { fromSec: 7.5, toSec: 59.5 } });
  });

  it('needs no new sound for gain, place, mute and role, and new sound for a take that was moved or laid anew', () => {
    const { key } = planMix(view, mix, never);
    const cheap: Edit[] = [
      { kind: 'setTrim', voiceId: 'voice-1', trimDb: 3 },
      { kind: 'setPlace', voiceId: 'voice-1', placeDeg: 12 },
      { kind: 'setMuted', voiceId: 'voice-1', muted: true },
      { kind: 'setRole', voiceId: 'voice-1', role: 'bass' },
    ];
    for (const change of cheap) {
      const plan = planMix(edited(change), mix, never);
      expect(plan.key).toBe(key);
      expect(plan.settings).not.toEqual(planMix(view, mix, never).settings);
    }
    const { placement } = view.session.takes[0]!;
    const moved = edited({ kind: 'setPlacement', takeId: 'take-1', placement: { ...placement!, offsetSec: 1 } });
    expect(planMix(moved, mix, never).key).not.toBe(key);
    expect(planMix(view, mix, (id) => (id === 'take-2' ? 1 : 0)).key).not.toBe(key);
  });

  it('plays a mended take mended, cleaned or not, and holds it against itself before mending when asked to', () => {
    const mend = { cents: 12, curve: [], nudges: [] };
    const mended = {
      ...withFacts('take-1', { mended: 'ready', clean: { ...view.takes['take-1']!.clean, state: 'off' } }),
      session: apply(view.session, { kind: 'setMend', takeId: 'take-1', mend }),
    };
    expect(planMix(mended, mix, never).sources[0]).toBe('take-1:after');
    expect(planMix(mended, mix, never).key).not.toBe(planMix(view, mix, never).key);
    const anew = {
      ...mended,
      takes: { ...mended.takes, 'take-1': { ...mended.takes['take-1']!, mended: 'busy' } },
    } as const;
    expect(planMix(anew, mix, never).sources[0]).toBe('take-1:after');
    const audition = { takeId: 'take-1', listen: 'before', onlyIt: false } as const;
    const heard = (change: object): readonly string[] =>
      planMix(mended, { ...mix, audition: { ...audition, ...change } }, never).sources.slice(0, 2);
    expect(heard({})).toEqual(['take-1:before', 'take-1:after']);
    expect(heard({ unmended: true })).toEqual(['take-1:cleaned', 'take-1:after']);
    expect(heard({ listen: 'takenAway' })).toEqual(['take-1:before', 'take-1:cleaned']);
  });

  it('plays what was not cleaned as it was recorded, what is cleaned anew as it was, and leaves out what cannot be played yet', () => {
    const standing = (state: 'unfit' | 'working'): DeskView =>
      withFacts('take-1', { clean: { ...view.takes['take-1']!.clean, state } });
    expect(planMix(standing('unfit'), mix, never).sources[0]).toBe('take-1:before');
    expect(planMix(standing('working'), mix, never).sources[0]).toBe('take-1:after');
    expect(planMix(withFacts('take-1', { playable: false }), mix, never).voices.map((voice) => voice.id)).toEqual([
      'voice-2',
      'voice-3',
      'voice-4',
    ]);
  });

  it('plays a voice of passages as the desk put it together, with its main take until then, and anew when a join moved', () => {
    const own = view.session.takes[0]!;
    const passages = [
      { takeId: 'take-1', fromSec: 0, toSec: 20 },
      { takeId: 'take-1b', fromSec: 20, toSec: 60 },
    ];
    const session = [
      { kind: 'addTake', take: { ...own, id: 'take-1b' } } as const,
      { kind: 'setPassages', voiceId: 'voice-1', passages } as const,
    ].reduce(apply, view.session);
    const joined = (atSec: number | null): DeskView => {
      const join = { atSec: atSec ?? 0, leftTakeId: 'take-1', rightTakeId: 'take-1b', kind: 'rest' as const };
      const joins = atSec === null ? [] : [{ ...join, fadeSec: 0.02, stepDb: 0, tiltDb: 0 }];
      const voices = view.blend!.voices.map((one, n) => (n === 0 ? { ...one, joins } : one));
      return { ...view, session, blend: { ...view.blend!, voices } };
    };
    expect(planMix(joined(null), mix, never).sources[0]).toBe('take-1:after');
    const plan = planMix(joined(20), mix, never);
    expect(plan.sources[0]).toBe('voice:voice-1:after');
    expect(planMix(joined(20.5), mix, never).key).not.toBe(plan.key);
    expect(planMix(joined(20), mix, (id) => (id === 'take-1b' ? 1 : 0)).key).not.toBe(plan.key);
    const audition = { takeId: 'take-1', listen: 'after' as const, onlyIt: true };
    expect(planMix(joined(20), { ...mix, audition }, never).sources[0]).toBe('take-1:before');
  });

  it('streams an auditioned take before and after, so that a switch needs no new sound', () => {
    const heard = (listen: 'before' | 'after' | 'takenAway', onlyIt: boolean) =>
      planMix(view, { ...mix, audition: { takeId: 'take-2', listen, onlyIt } }, never);
    const plan = heard('before', true);
    expect(plan.sources).toEqual(['take-1:after', 'take-2:before', 'take-2:after', 'take-3:after', 'take-4:after']);
    expect(plan.voices[1]!.sources).toEqual([1, 2]);
    expect(heard('takenAway', false).key).toBe(plan.key);
    expect(plan.settings.voices.map((voice) => voice.heard)).toEqual([false, true, false, false]);
    // The room before the music is what one wants to hear of a cleaning.
    expect(plan.settings.spanOpen).toBe(true);
    expect(heard('before', false).settings).toMatchObject({ spanOpen: false, listen: 'before' });
  });

  it('streams the take in hand both ways from the start, so that its first audition needs no new sound either', () => {
    const inHand = planMix(view, { ...mix, inHand: 'take-2' }, never);
    expect(inHand.voices[1]!.sources).toEqual([1, 2]);
    expect(inHand.settings.listen).toBe('after');
    const audition = { takeId: 'take-2', listen: 'takenAway', onlyIt: true } as const;
    expect(planMix(view, { ...mix, inHand: 'take-2', audition }, never).key).toBe(inHand.key);
  });

  it('lets voices be heard alone, and forgets ones that are gone', () => {
    const alone = (...ids: string[]) => planMix(view, { ...mix, alone: ids }, never).settings;
    expect(alone('voice-3').voices.map((voice) => voice.heard)).toEqual([false, false, true, false]);
    expect(alone('voice-9').voices.every((voice) => voice.heard)).toBe(true);
  });

  it('opens the span for a loop that reaches out of it, as for the claps', () => {
    const loop = { fromFrame: 200_000, toFrame: 300_000 };
    expect(planMix(view, { ...mix, loop }, never).settings.spanOpen).toBe(true);
    const inside = { fromFrame: 500_000, toFrame: 600_000 };
    expect(planMix(view, { ...mix, loop: inside }, never).settings.spanOpen).toBe(false);
  });

  it('goes without a voice whose take nobody could place, and does with a blend that is not there yet', () => {
    const blend = { ...view.blend!, voices: view.blend!.voices.map((one, n) => ({ ...one, leftOut: n === 0 })) };
    expect(planMix({ ...view, blend }, mix, never).voices).toHaveLength(3);
    const plan = planMix({ ...view, blend: null }, mix, never);
    expect(plan.settings).toMatchObject({ masterGainDb: 0 });
    expect(plan.endFrame).toBe(Math.round((60 + 3 * 0.35 - 0.4) * 48_000));
  });
});
