import { describe, expect, it, vi } from 'vitest';
import type { DoorAnswer } from '../../../app/shell/contract/bridge.ts';
import { type CallName, callInputs, callNames } from '../../../app/shell/contract/calls.ts';
import type { DeskEvent } from '../../../app/shell/contract/events.ts';
import type { SmallHost } from './small-host.ts';

/** A door with a small host behind it, as its page uses it. */
export interface DoorUnderTest {
  readonly host: SmallHost;
  /** As a page would call it, with whatever input. */
  call(name: string, input: unknown): Promise<DoorAnswer>;
  /** Begins to listen; gives what came so far, and grows. */
  listen(): Promise<readonly DeskEvent[]>;
  media(route: string, headers?: Readonly<Record<string, string>>, method?: string): Promise<Response>;
  page(path: string): Promise<Response>;
  end(): Promise<void>;
}

/** A guide as the page asks for it. */
const choice = {
  score: null,
  title: 'Canon',
  quartersPerMinute: 72,
  metre: { beats: 3, unit: 4 },
  bars: 48,
  settings: {
    silenceSec: 5,
    cue: 'both',
    countInBars: 2,
    referenceHz: 440,
    tuningSec: 4,
    click: 'beats',
    restingBars: [{ fromBar: 9, toBar: 16 }],
  },
  temperament: 'equal',
  tonic: 0,
  clickDb: 0,
  drone: false,
  versions: 'one',
  ownDb: null,
  withTakes: false,
  formats: ['wav'],
};

/** An input of each call that is as the contract says. */
const inputs: { readonly [Name in CallName]: unknown } = {
  begin: {},
  newSession: { title: 'Evening canon', folder: null },
  openSession: { folder: '/music/canon' },
  openSample: {},
  closeSession: {},
  forgetRecent: { folder: '/music/canon' },
  edit: { edit: { kind: 'setTitle', title: 'Morning round' }, mergeKey: null, by: 'page', seq: 1 },
  undo: {},
  redo: {},
  addClips: { files: ['/music/1.m4a'], voiceId: null },
  setGuide: { file: null },
  lineUpAgain: { takeIds: [] },
  relink: { takeId: 'take-1', file: '/music/1.m4a', evenIfOther: false },
  searchMissing: { folder: '/music' },
  joinPoints: { leftTakeId: 'take-1', rightTakeId: 'take-2', atSec: 1 },
  listenToPitch: { referenceHz: null, temperament: 'equal', tonic: 0 },
  listenToTakes: {},
  stopJob: { jobId: 'job-1' },
  render: { folder: null, wave: 'pcm24', copy: null, stems: true },
  readScore: { file: '/music/canon.mid' },
  makeGuide: { choice },
  tryGuide: { choice, voice: null },
  checkClip: { file: '/music/trial.m4a' },
  checkTake: { takeId: 'take-1' },
  forgetTrial: { trialId: 'trial-1' },
  preparePictures: { cannotPlay: ['take-1'] },
  matchedTones: {},
  gatherClips: { folder: null, kind: 'otio', links: false },
  findSolos: {},
  renderPicture: { folder: null, container: 'mp4', speed: 'usual', cover: true },
  pickFiles: { title: 'Clips', many: true },
  pickFolder: { title: 'Where' },
  reveal: { path: '/music/mix.wav' },
};

/** Calls that the window answers itself. */
const ownToWindow: readonly string[] = ['pickFiles', 'pickFolder', 'reveal'];

const edited = (seq: number): DeskEvent => ({
  kind: 'edited',
  revision: seq,
  edit: { kind: 'setTitle', title: `title ${seq}` },
  by: 'page',
  seq,
  undoLabel: null,
  redoLabel: null,
});

/** Whatever door it is, the desk behind it is the same; `begin` makes one with a built page of its own. */
export function doorSuite(title: string, begin: () => Promise<DoorUnderTest>): void {
  const through = async (use: (door: DoorUnderTest) => Promise<void>): Promise<void> => {
    const door = await begin();
    try {
      await use(door);
    } finally {
      await door.end();
    }
  };

  describe(title, () => {
    it(`brings each of ${callNames.length} calls to the desk with its input, and the answer back`, () =>
      through(async (door) => {
        const plain = callNames.filter((name) => !['undo', 'redo', ...ownToWindow].includes(name));
        for (const name of plain) {
          expect(await door.call(name, inputs[name])).toEqual({ ok: true, value: { name, input: inputs[name] } });
        }
        expect(door.host.asked.map(({ name }) => name)).toEqual(plain);
      }));

    it('turns away each call whose input is not as the contract says, before the desk sees it', () =>
      through(async (door) => {
        for (const name of callNames) {
          for (const input of [null, undefined, 'text', [], { ...(inputs[name] as object), more: 1 }]) {
            const answer = await door.call(name, input);
            expect(answer, `${name} ${JSON.stringify(input)}`).toMatchObject({
              ok: false,
              fault: { code: 'bad-call' },
            });
          }
          const needed = Object.keys(callInputs[name].shape)[0];
          if (needed !== undefined) {
            const { [needed]: _, ...rest } = inputs[name] as Record<string, unknown>;
            expect(await door.call(name, rest)).toMatchObject({ ok: false, fault: { code: 'bad-call' } });
          }
        }
        expect(door.host.asked).toEqual([]);
      }));

    it('turns away names that are no calls, those of every object among them', () =>
      through(async (door) => {
        for (const name of ['', 'quit', 'constructor', '__proto__', 'toString', 'BEGIN']) {
          const answer = await door.call(name, {}).catch(() => ({ ok: false, fault: { code: 'bad-call' } }));
          expect(answer).toMatchObject({ ok: false, fault: { code: 'bad-call' } });
        }
        expect(door.host.asked).toEqual([]);
      }));

    it('tells a fault of the desk as a value, and a defect without its inside', () =>
      through(async (door) => {
        expect(await door.call('undo', {})).toEqual({
          ok: false,
          fault: { code: 'bad-option', message: 'There is nothing to undo.', nextStep: 'Go on.', file: null },
        });
        const told = vi.spyOn(process.stderr, 'write').mockReturnValue(true);
        const defect = JSON.stringify(await door.call('redo', {}));
        // The program's own error output has it, for whoever mends it.
        expect(told).toHaveBeenCalledTimes(1);
        told.mockRestore();
        expect(defect).toContain('"unexpected"');
        expect(defect).not.toContain('secret');
      }));

    it('tells 200 events in their order', () =>
      through(async (door) => {
        const seen = await door.listen();
        const told = Array.from({ length: 200 }, (_, n) => edited(n));
        for (const event of told) door.host.tell(event);
        await until(() => seen.length === told.length);
        expect(seen).toEqual(told);
      }));

    it('serves media whole: 200, 1000 bytes, their type, and no copy kept', () =>
      through(async (door) => {
        const response = await door.media('wave/take-1/before/0');
        expect(response.status).toBe(200);
        expect(response.headers.get('content-type')).toBe('application/octet-stream');
        expect(response.headers.get('content-length')).toBe('1000');
        expect(response.headers.get('accept-ranges')).toBe('bytes');
        expect(response.headers.get('cache-control')).toBe('no-store');
        expect(await bytesOf(response)).toEqual(counting(0, 1000));
      }));

    it.each([
      ['bytes=0-0', 0, 1],
      ['bytes=10-19', 10, 20],
      ['bytes=990-', 990, 1000],
      ['bytes=990-5000', 990, 1000],
      ['bytes=-10', 990, 1000],
      ['bytes=-5000', 0, 1000],
    ])('serves the range %s as bytes %i up to %i: 206', (range, from, to) =>
      through(async (door) => {
        const response = await door.media('wave/take-1/before/0', { range });
        expect(response.status).toBe(206);
        expect(response.headers.get('content-range')).toBe(`bytes ${from}-${to - 1}/1000`);
        expect(response.headers.get('content-length')).toBe(String(to - from));
        expect(await bytesOf(response)).toEqual(counting(from, to));
      }),
    );

    it.each(['bytes=1000-', 'bytes=5000-6000', 'bytes=-0'])('refuses the range %s of 1000 bytes: 416', (range) =>
      through(async (door) => {
        const response = await door.media('wave/take-1/before/0', { range });
        expect(response.status).toBe(416);
        expect(response.headers.get('content-range')).toBe('bytes */1000');
        await response.arrayBuffer();
      }),
    );

    it.each(['bytes=20-10', 'bytes=a-b', 'bytes=-', 'bytes=0-1,5-6', 'frames=0-1'])(
      'passes over the range %s and serves the whole: 200',
      (range) =>
        through(async (door) => {
          const response = await door.media('wave/take-1/before/0', { range });
          expect(response.status).toBe(200);
          expect((await response.arrayBuffer()).byteLength).toBe(1000);
        }),
    );

    it('hands the route on with its query, and answers 404 where there is nothing', () =>
      through(async (door) => {
        const response = await door.media('stretch?from=0&frames=10&sources=take-1:after');
        await response.arrayBuffer();
        expect(door.host.routes).toEqual(['stretch?from=0&frames=10&sources=take-1:after']);
        expect((await door.media('wave/none/before/0')).status).toBe(404);
      }));

    it.each([
      'clip/..%2f..%2fsession.json',
      'clip/%2e%2e%5csession.json',
      'clip/take-1%00',
      'clip//take-1',
      'clip/%zz',
      'render/a%0ab',
    ])('refuses the way out media/%s: 400, and the desk is not asked', (route) =>
      through(async (door) => {
        expect((await door.media(route)).status).toBe(400);
        expect(door.host.routes).toEqual([]);
      }),
    );

    it('answers HEAD with the headers alone', () =>
      through(async (door) => {
        const response = await door.media('wave/take-1/before/0', {}, 'HEAD');
        expect([response.status, response.headers.get('content-length')]).toEqual([200, '1000']);
        expect((await response.arrayBuffer()).byteLength).toBe(0);
      }));

    it('serves the page and its files with a policy that lets no other script run, and isolated', () =>
      through(async (door) => {
        for (const [path, type] of [
          ['/', 'text/html; charset=utf-8'],
          ['/assets/page.js', 'text/javascript; charset=utf-8'],
        ] as const) {
          const response = await door.page(path);
          expect(response.status).toBe(200);
          expect(response.headers.get('content-type')).toBe(type);
          const policy = response.headers.get('content-security-policy') ?? '';
          expect(policy).toContain("default-src 'none'");
          expect(policy).toContain("connect-src 'self'");
          expect(policy).not.toMatch(/unsafe-inline|unsafe-eval'? |\*|https?:/);
          expect(response.headers.get('cross-origin-opener-policy')).toBe('same-origin');
          expect(response.headers.get('cross-origin-embedder-policy')).toBe('require-corp');
          expect(response.headers.get('cross-origin-resource-policy')).toBe('same-origin');
          expect(response.headers.get('x-content-type-options')).toBe('nosniff');
          expect(response.headers.get('referrer-policy')).toBe('no-referrer');
          await response.arrayBuffer();
        }
      }));

    it.each(['/nothing.html', '/assets', '/secret.txt', '/constructor'])('has nothing at %s: 404', (path) =>
      through(async (door) => {
        expect((await door.page(path)).status).toBe(404);
      }),
    );
  });
}

/** Waits for what takes its time. */
export async function until(isSo: () => boolean, withinMs = 5000): Promise<void> {
  const end = Date.now() + withinMs;
  while (!isSo()) {
    if (Date.now() > end) throw new Error(`it did not come within ${withinMs} ms: ${isSo}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}

function counting(from: number, to: number): number[] {
  return Array.from({ length: to - from }, (_, n) => (from + n) % 251);
}

async function bytesOf(response: Response): Promise<number[]> {
  return [...new Uint8Array(await response.arrayBuffer())];
}
