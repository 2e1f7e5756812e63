import { describe, expect, it } from 'vitest';
import { Ledger, type Stage, type Want } from '../../../../app/desk/live/ledger.ts';
import { PartsongError } from '../../../../core/signal/fault.ts';

/** Work that ends when it is told to, and a record of what began and was stopped. */
function bench(slots: number) {
  const began: string[] = [];
  const stopped: string[] = [];
  const ends = new Map<string, { done: (value: string) => void; fail: (fault: unknown) => void }>();
  const ledger = new Ledger(slots, () => undefined);
  const want = (key: string, stage: Stage = 'clean', rest: Partial<Want<string>> = {}): Want<string> => ({
    key,
    stage,
    ...rest,
    run: (signal) =>
      new Promise((done, fail) => {
        began.push(key);
        ends.set(key, { done, fail });
        signal.addEventListener('abort', () => {
          stopped.push(key);
          fail(new Error('stopped'));
        });
      }),
  });
  const round = (...wants: readonly Want<string>[]) => {
    ledger.begin();
    const standings = wants.map((one) => ledger.need(one));
    ledger.end();
    return standings.map((standing) => (standing.state === 'done' ? standing.value : standing.state));
  };
  const tick = () => new Promise((resolve) => setTimeout(resolve, 2));
  return { ledger, began, stopped, ends, want, round, tick };
}

describe('the ledger of work', () => {
  it('begins as much as there are workers, by stage, then in the order asked for', async () => {
    const { began, want, round, ends, tick } = bench(2);
    const wants = [want('c1'), want('c2'), want('m', 'measure'), want('t', 'takeIn')];
    expect(round(...wants)).toEqual(['waiting', 'waiting', 'waiting', 'waiting']);
    await tick();
    expect(began).toEqual(['t', 'c1']);
    ends.get('t')!.done('heard');
    await tick();
    expect(began).toEqual(['t', 'c1', 'c2']);
    expect(round(...wants)).toEqual(['running', 'running', 'waiting', 'heard']);
  });

  it('takes what the user wished last before what was asked for earlier', async () => {
    const { ledger, began, want, round, ends, tick } = bench(1);
    const older = [want('a', 'takeIn'), want('b', 'takeIn')];
    round(...older);
    ledger.wish();
    round(...older, want('new'));
    await tick();
    ends.get('a')!.done('');
    await tick();
    expect(began).toEqual(['a', 'new']);
  });

  it('counts what follows from older work to the older wish, unless it was wished for just now', async () => {
    const { ledger, began, want, round, ends, tick } = bench(1);
    const reads = [want('t1', 'takeIn'), want('t2', 'takeIn'), want('t3', 'takeIn')];
    round(...reads);
    await tick();
    ledger.wish();
    round(...reads);
    ends.get('t1')!.done('');
    round(...reads, want('c1', 'clean', { after: 't1' }));
    await tick();
    expect(began).toEqual(['t1', 't2']);
    ledger.wish();
    round(...reads, want('c1', 'clean', { after: 't1' }), want('firm', 'clean', { after: 't1' }));
    ends.get('t2')!.done('');
    await tick();
    expect(began).toEqual(['t1', 't2', 'firm']);
  });

  it('stops what is not wanted any more, and begins it anew only when that has let go', async () => {
    const { began, stopped, want, round, tick } = bench(2);
    round(want('a'));
    await tick();
    round(want('b'));
    expect(stopped).toEqual(['a']);
    round(want('a'), want('b'));
    await tick();
    expect(began).toEqual(['a', 'b', 'a']);
    expect(round(want('a'), want('b'))).toEqual(['running', 'running']);
  });

  it('gives at once what is known, and waits for calm with what may still change', async () => {
    const { began, want, round, tick } = bench(2);
    expect(round(want('k', 'clean', { known: () => 'kept' }), want('f', 'clean', { calmMs: 60 }))).toEqual([
      'kept',
      'waiting',
    ]);
    await tick();
    expect(began).toEqual([]);
    await new Promise((resolve) => setTimeout(resolve, 80));
    expect(began).toEqual(['f']);
  });

  it('shows work as jobs that can be stopped, and goes on after the next wish', async () => {
    const { ledger, began, want, round, ends, tick } = bench(1);
    const wants = [want('a'), want('b'), want('look', 'look')];
    round(...wants);
    const [job] = ledger.jobs();
    expect(job).toMatchObject({ kind: 'clean', title: 'Cleaning 2 takes', fraction: 0, canStop: true });
    await tick();
    ends.get('a')!.done('');
    await tick();
    expect(ledger.jobs()[0]).toMatchObject({ id: job!.id, fraction: 0.5 });
    expect(ledger.stop(job!.id)).toBe(true);
    expect(round(...wants).slice(0, 2)).toEqual(['', 'stopped']);
    expect(ledger.isBusy('clean')).toBe(false);
    ledger.wish();
    round(...wants);
    await tick();
    expect(began.filter((key) => key === 'b')).toHaveLength(2);
  });

  it('tries again after a wish what failed for want of room, not what is wrong with a clip', async () => {
    const { ledger, began, want, round, ends, tick } = bench(2);
    const wants = [want('full'), want('bad')];
    round(...wants);
    await tick();
    ends.get('full')!.fail(Object.assign(new Error('ENOSPC'), { code: 'ENOSPC' }));
    ends.get('bad')!.fail(new PartsongError('not-media', 'It is none.', 'Choose another.'));
    await tick();
    expect(round(...wants)).toEqual(['fault', 'fault']);
    ledger.wish();
    round(...wants);
    await tick();
    expect(began).toEqual(['full', 'bad', 'full']);
  });

  it('stops everything when it is closed', async () => {
    const { ledger, stopped, want, round, tick } = bench(2);
    round(want('a'), want('b'), want('c'));
    await tick();
    expect(await ledger.close()).toBe(true);
    expect(stopped).toEqual(['a', 'b']);
  });
});
