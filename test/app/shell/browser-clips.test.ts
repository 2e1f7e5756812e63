import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { connect } from 'node:net';
import { basename, join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { BrowserDoors, rawHead } from './browser-doors.ts';
import { until } from './door-suite.ts';

const doors = new BrowserDoors();

describe('clips sent to the loopback door', () => {
  async function withSession() {
    const all = await doors.begin();
    all.host.folder = doors.sessionFolder();
    const clips = join(all.host.folder, 'clips');
    const send = (name: string, body: Uint8Array | string, headers: Readonly<Record<string, string>> = {}) =>
      all.page.raw(
        'PUT',
        `/clips?name=${encodeURIComponent(name)}`,
        { 'content-length': String(body.length), ...headers },
        body,
      );
    return { ...all, clips, send };
  }

  it('keeps a clip of 3 MiB whole and answers its path; another of that name goes beside it, the same one is kept once', async () => {
    const { clips, send } = await withSession();
    const clipOf = (seed: number) => Uint8Array.from({ length: 3 * 2 ** 20 }, (_, n) => (n + seed) % 253);
    const paths = [];
    for (const seed of [0, 1, 1]) paths.push(JSON.parse((await send('1 Soprano é.m4a', clipOf(seed))).text).value);
    const [first, second] = [join(clips, '1 Soprano é.m4a'), join(clips, '1 Soprano é (2).m4a')];
    expect(paths).toEqual([first, second, second]);
    expect(readFileSync(first).equals(clipOf(0))).toBe(true);
    expect(readFileSync(second).equals(clipOf(1))).toBe(true);
    expect(readdirSync(clips)).toHaveLength(2);
  });

  it('keeps two clips of one name that come at once apart', async () => {
    const { clips, send } = await withSession();
    await Promise.all([send('a.wav', 'one'), send('a.wav', 'two')]);
    expect(readdirSync(clips).sort()).toEqual(['a (2).wav', 'a.wav']);
  });

  it.each(['', '.', '..', '../a.m4a', 'a/b.m4a', 'a\\b.m4a', 'a\u0000.m4a', 'a\n.m4a'])(
    'refuses the name %j: 400',
    async (name) => {
      const { send, host } = await withSession();
      expect((await send(name, 'x')).status).toBe(400);
      expect(readdirSync(host.folder!)).toEqual([]);
    },
  );

  it.each([
    ['con.m4a', '_con.m4a'],
    ['.hidden.m4a', '_hidden.m4a'],
    ['a<b>:c?.m4a', 'a_b__c_.m4a'],
    ['trailing. . ', 'trailing'],
    [`${'é'.repeat(300)}.m4a`, `${'é'.repeat(98)}.m4a`],
  ])('keeps the name %s as one that every system takes', async (name, kept) => {
    const { send } = await withSession();
    expect(basename(JSON.parse((await send(name, 'x')).text).value)).toBe(kept);
  });

  it('refuses a clip without a length, 411, of more than 64 GiB, 413, and with no session open, 409', async () => {
    const { send, page, host, clips } = await withSession();
    const chunked = await page.raw('PUT', '/clips?name=a.m4a', { 'transfer-encoding': 'chunked' }, 'x');
    expect(chunked.status).toBe(411);
    expect((await rawHead(page, 'PUT /clips?name=a.m4a', String(2 ** 40))).slice(9, 12)).toBe('413');
    expect(existsSync(clips)).toBe(false);
    host.folder = null;
    const none = await send('a.m4a', 'x');
    expect([none.status, JSON.parse(none.text).fault.code]).toEqual([409, 'no-session']);
  });

  it('leaves nothing of a clip when the page breaks off half way', async () => {
    const { page, clips } = await withSession();
    const { port } = new URL(page.origin);
    const socket = connect(Number(port), '127.0.0.1');
    const headers = Object.entries({ ...page.headers, host: `127.0.0.1:${port}`, 'content-length': '200000' });
    const lines = headers.map(([name, value]) => `${name}: ${value}\r\n`).join('');
    socket.write(`PUT /clips?name=half.m4a HTTP/1.1\r\n${lines}\r\n${'x'.repeat(100_000)}`);
    await until(() => existsSync(clips) && readdirSync(clips).length === 1);
    expect(readdirSync(clips)[0]).toMatch(/^\.partsong-/);
    socket.destroy();
    await until(() => readdirSync(clips).length === 0);
  });
});
