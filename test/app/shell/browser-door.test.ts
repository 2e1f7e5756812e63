import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterAll, afterEach, describe, expect, it } from 'vitest';
import {
  type BrowserDoor,
  type BrowserDoorOptions,
  startBrowserDoor,
} from '../../../app/shell/browser/browser-door.ts';
import { BrowserPage, rawRequest, smallPage } from './browser-page.ts';
import { doorSuite, until } from './door-suite.ts';
import { renderJob, SmallHost } from './small-host.ts';

const pageFolder = smallPage();
const open: BrowserDoor[] = [];
const folders: string[] = [pageFolder];

async function begin(options: Partial<BrowserDoorOptions> = {}) {
  const host = new SmallHost();
  const door = await startBrowserDoor({ host, pageFolder, lingerMs: null, ...options });
  open.push(door);
  return { host, door, page: await BrowserPage.open(door.url) };
}

/** A session's folder for clips. */
function sessionFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'partsong-session-'));
  folders.push(folder);
  return folder;
}

afterEach(async () => {
  await Promise.all(open.splice(0).map((door) => door.close()));
});
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
});

doorSuite('the desk through the loopback door', async () => {
  const { host, door, page } = await begin();
  return {
    host,
    call: (name, input) => page.call(name, input),
    listen: async () => (await page.listen()).events,
    media: (route, headers, method) => page.fetch(`/media/${route}`, headers, method),
    page: (path) => page.fetch(path),
    end: () => door.close(),
  };
});

describe('who may come in', () => {
  it('gives an address of 127.0.0.1 with a token of 256 bit that no request holds', async () => {
    const { door } = await begin();
    const { hostname, port, hash, search, pathname } = new URL(door.url);
    expect([hostname, pathname, search]).toEqual(['127.0.0.1', '/', '']);
    expect(Number(port)).toBeGreaterThan(1023);
    expect(Buffer.from(hash.slice(1), 'base64url').length).toBe(32);
  });

  it('gives for the token a cookie that script cannot read and no other site can send', async () => {
    const host = new SmallHost();
    const door = await startBrowserDoor({ host, pageFolder, lingerMs: null });
    open.push(door);
    const headers = { origin: door.origin, 'content-type': 'application/json' };
    const token = JSON.stringify({ token: new URL(door.url).hash.slice(1) });
    const first = await rawRequest(door.origin, 'POST', '/enter', headers, token);
    expect(first.headers['set-cookie']?.[0]).toMatch(/^partsong-\d+=[\w-]{43}; HttpOnly; SameSite=Strict; Path=\/$/);
    const again = await rawRequest(door.origin, 'POST', '/enter', headers, token);
    expect([again.status, again.headers['set-cookie']]).toEqual([401, undefined]);
    const cookie = first.headers['set-cookie']![0]!.split(';')[0]!;
    expect((await rawRequest(door.origin, 'POST', '/enter', { ...headers, cookie }, token)).status).toBe(200);
  });

  it.each([
    ['no token', ''],
    ['a wrong token', 'A'.repeat(43)],
    ['an overlong token', 'A'.repeat(500)],
  ])('refuses %s: 401', async (_, token) => {
    const { door } = await begin();
    const headers = { origin: door.origin, 'content-type': 'application/json' };
    expect((await rawRequest(door.origin, 'POST', '/enter', headers, JSON.stringify({ token }))).status).toBe(401);
  });

  const guarded = [
    ['POST', '/call'],
    ['GET', '/events'],
    ['GET', '/media/wave/take-1/before/0'],
    ['PUT', '/clips?name=a.m4a'],
  ] as const;

  it.each(guarded)('refuses %s %s without the cookie, or with a wrong one: 401', async (method, path) => {
    const { door, host, page } = await begin();
    const plain = { origin: door.origin, 'content-type': 'application/json', 'content-length': '0' };
    const name = page.cookie.split('=')[0];
    for (const cookie of [undefined, `${name}=`, `${name}=${'A'.repeat(43)}`, `other=${page.cookie.split('=')[1]}`]) {
      const headers = cookie === undefined ? plain : { ...plain, cookie };
      expect((await rawRequest(door.origin, method, path, headers)).status).toBe(401);
    }
    expect([host.asked, host.routes]).toEqual([[], []]);
  });

  it.each([...guarded, ['GET', '/'] as const, ['POST', '/enter'] as const])(
    'refuses %s %s under a foreign Host, whatever name points here: 421',
    async (method, path) => {
      const { door, host, page } = await begin();
      const { port } = new URL(door.origin);
      for (const name of ['evil.example', `evil.example:${port}`, `localhost:${port}`, '127.0.0.1', '127.0.0.1:1']) {
        const answer = await page.raw(method, path, { host: name, 'content-length': '0' });
        expect(answer.status, name).toBe(421);
      }
      expect([host.asked, host.routes]).toEqual([[], []]);
    },
  );

  it.each([...guarded, ['POST', '/enter'] as const])('refuses %s %s of a foreign Origin: 403', async (method, path) => {
    const { door, host, page } = await begin();
    const { port } = new URL(door.origin);
    const others = [
      'http://evil.example',
      'null',
      `https://127.0.0.1:${port}`,
      'http://127.0.0.1:1',
      `${door.origin}/`,
    ];
    for (const origin of others) {
      const answer = await page.raw(method, path, { origin, 'content-length': '0' });
      expect(answer.status, origin).toBe(403);
    }
    expect([host.asked, host.routes]).toEqual([[], []]);
  });

  it.each([
    ['POST', '/call'],
    ['PUT', '/clips?name=a.m4a'],
    ['POST', '/enter'],
  ])('refuses %s %s without an Origin: 403', async (method, path) => {
    const { door, page } = await begin();
    const headers = { cookie: page.cookie, 'content-type': 'application/json', 'content-length': '2' };
    expect((await rawRequest(door.origin, method, path, headers, '{}')).status).toBe(403);
  });

  it.each(['cross-site', 'same-site'])('refuses whatever a %s page makes a browser fetch: 403', async (site) => {
    const { page, host } = await begin();
    for (const path of ['/', '/events', '/media/wave/take-1/before/0']) {
      const { cookie } = page;
      expect((await rawRequest(page.origin, 'GET', path, { cookie, 'sec-fetch-site': site })).status).toBe(403);
    }
    expect((await page.raw('POST', '/call', { 'sec-fetch-site': site }, '{}')).status).toBe(403);
    expect(host.routes).toEqual([]);
  });
});

describe('malformed requests at the loopback door', () => {
  it.each([
    '/../package.json',
    '/assets/../../package.json',
    '/assets/..%2f..%2fpackage.json',
    '/%2e%2e/package.json',
    '/..\\package.json',
    '/%2e%2e%5cpackage.json',
    '/assets/page.js%00',
    '//evil.example/',
    '/%ff',
    '/assets//page.js',
    'http://evil.example/',
    '*',
    `/${'a'.repeat(9000)}`,
  ])('refuses the address %s: 400', async (path) => {
    const { page } = await begin();
    const answer = await page.raw('GET', path);
    expect(answer.status).toBe(400);
    expect(answer.text).not.toMatch(/node:|at |\.ts|root/);
  });

  it('refuses unknown addresses, 404, and methods, 405 with those it knows', async () => {
    const { page } = await begin();
    expect((await page.raw('GET', '/nothing')).status).toBe(404);
    expect((await page.raw('POST', '/call/more', { 'content-type': 'application/json' }, '{}')).status).toBe(404);
    for (const [method, path, allowed] of [
      ['GET', '/call', 'POST'],
      ['DELETE', '/media/wave/take-1/before/0', 'GET, HEAD'],
      ['POST', '/events', 'GET'],
      ['POST', '/clips?name=a', 'PUT'],
      ['PUT', '/', 'GET, HEAD'],
      ['OPTIONS', '/call', 'POST'],
      ['TRACE', '/', 'GET, HEAD'],
    ] as const) {
      const answer = await page.raw(method, path, { 'content-length': '0' });
      expect([answer.status, answer.headers.allow], `${method} ${path}`).toEqual([405, allowed]);
    }
  });

  it.each([undefined, 'text/plain', 'application/x-www-form-urlencoded', 'application/json; charset=latin1'])(
    'refuses a call of the type %s: 415',
    async (type) => {
      const { page, host } = await begin();
      const body = JSON.stringify({ name: 'begin', input: {} });
      const headers = type === undefined ? {} : { 'content-type': type };
      expect((await page.raw('POST', '/call', headers, body)).status).toBe(415);
      expect(host.asked).toEqual([]);
    },
  );

  it.each([
    '',
    '{',
    '{"name":"begin","input":{}',
    'null',
    '[]',
    '"begin"',
    '{"name":1}',
    '{"name":"begin"}',
    '{"input":{}}',
  ])('refuses the call %s: 400, as a fault with a next step', async (body) => {
    const { page, host } = await begin();
    const answer = await page.raw('POST', '/call', { 'content-type': 'application/json' }, body);
    expect(answer.status).toBe(400);
    expect(JSON.parse(answer.text)).toMatchObject({ ok: false, fault: { code: 'bad-call' } });
    expect(host.asked).toEqual([]);
  });

  it('refuses a call that is no UTF-8: 400', async () => {
    const { page } = await begin();
    const body = Buffer.from([0x22, 0xff, 0x22]);
    expect((await page.raw('POST', '/call', { 'content-type': 'application/json' }, body)).status).toBe(400);
  });

  it('refuses a call over 1 MiB, whether it says so or not: 413', async () => {
    const { page, host } = await begin();
    const large = JSON.stringify({ name: 'newSession', input: { title: 'a'.repeat(2 ** 20), folder: null } });
    for (const extra of [{ 'content-length': String(large.length) }, { 'transfer-encoding': 'chunked' }]) {
      const answer = await page.raw('POST', '/call', { 'content-type': 'application/json', ...extra }, large);
      expect(answer.status).toBe(413);
    }
    expect(host.asked).toEqual([]);
  });

  it('answers what is not HTTP, and headers over 16 KiB, and goes on', async () => {
    const { page, door } = await begin();
    expect(await rawText(door.origin, 'no http at all\r\n\r\n')).toContain('400');
    const many = `GET / HTTP/1.1\r\nhost: x\r\nx: ${'a'.repeat(20_000)}\r\n\r\n`;
    expect(await rawText(door.origin, many)).toContain('431');
    expect((await page.call('begin', {})).ok).toBe(true);
  });
});

describe('events at the loopback door', () => {
  it('tells a page that comes back what is open now', async () => {
    const { page, host } = await begin();
    const first = await page.listen();
    await until(() => first.named.includes('hello'));
    expect(first.events).toEqual([]);
    expect((await page.listen('3')).events).toEqual([]);
    const closed = await page.listen('3');
    await until(() => closed.events.length === 1);
    expect(closed.events[0]).toEqual({ kind: 'closed' });
    host.folder = '/music/canon';
    const back = await page.listen('3');
    await until(() => back.events.length === 1);
    expect(back.events[0]).toMatchObject({ kind: 'opened', view: { folder: '/music/canon', revision: 7 } });
  });

  it('drops a page that does not read once 64 KiB wait for it, and keeps the others', async () => {
    const { page, host, door } = await begin({ mostUnreadBytes: 65536 });
    const reading = await page.listen();
    await until(() => reading.named.includes('hello'));
    const { port } = new URL(door.origin);
    const deaf = connect(Number(port), '127.0.0.1');
    deaf.write(`GET /events HTTP/1.1\r\nhost: 127.0.0.1:${port}\r\ncookie: ${page.cookie}\r\n\r\n`);
    await new Promise((resolve) => deaf.once('readable', resolve));
    let dropped = false;
    deaf.on('close', () => {
      dropped = true;
    });
    const fault = { code: 'x', message: 'a'.repeat(60_000), nextStep: '', file: null };
    for (let n = 0; n < 400; n++) {
      host.tell({ kind: 'fault', fault });
      // The reading page is given time to read.
      await until(() => reading.events.length === n + 1);
    }
    deaf.on('error', () => undefined);
    deaf.resume();
    await until(() => dropped);
    expect(reading.named).toEqual(['hello']);
  });
});

describe('clips sent to the loopback door', () => {
  async function withSession() {
    const all = await begin();
    all.host.folder = sessionFolder();
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

  it('keeps a clip of 3 MiB whole and answers its path; a second of that name goes beside it', async () => {
    const { clips, send } = await withSession();
    const bytes = Uint8Array.from({ length: 3 * 2 ** 20 }, (_, n) => n % 253);
    const paths = [];
    for (let n = 0; n < 2; n++) paths.push(JSON.parse((await send('1 Soprano é.m4a', bytes)).text).value);
    expect(paths).toEqual([join(clips, '1 Soprano é.m4a'), join(clips, '1 Soprano é (2).m4a')]);
    expect(readFileSync(paths[1]).equals(bytes)).toBe(true);
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

describe('the end of the loopback door', () => {
  it('ends by itself when its last page has been gone for a while, and not before', async () => {
    const { page, door, host } = await begin({ lingerMs: 150 });
    const first = await page.listen();
    await until(() => first.named.includes('hello'));
    first.stop();
    await new Promise((resolve) => setTimeout(resolve, 50));
    const reloaded = await page.listen();
    await until(() => reloaded.named.includes('hello'));
    await new Promise((resolve) => setTimeout(resolve, 300));
    expect((await page.call('begin', {})).ok).toBe(true);
    reloaded.stop();
    await door.ended;
    expect(host.listeners).toBe(0);
  });

  it('takes whatever is asked for as a sign of a page that is on its way', async () => {
    const { page, door } = await begin({ lingerMs: 200 });
    const listening = await page.listen();
    await until(() => listening.named.includes('hello'));
    listening.stop();
    for (let n = 0; n < 8; n++) {
      await new Promise((resolve) => setTimeout(resolve, 60));
      expect((await page.raw('GET', '/')).status).toBe(200);
    }
    await door.ended;
  });

  it('waits for its first page without end, and for a render that runs', async () => {
    const { page, door, host } = await begin({ lingerMs: 50 });
    await new Promise((resolve) => setTimeout(resolve, 200));
    host.folder = '/music/canon';
    host.jobs = [renderJob];
    const listening = await page.listen();
    await until(() => listening.named.includes('hello'));
    listening.stop();
    await new Promise((resolve) => setTimeout(resolve, 250));
    expect((await page.call('begin', {})).ok).toBe(true);
    host.jobs = [];
    await door.ended;
  });

  it('says goodbye to its pages when it is closed, and is gone within 1 s', async () => {
    const { page, door } = await begin();
    const listening = await page.listen();
    await until(() => listening.named.includes('hello'));
    const began = Date.now();
    await door.close();
    expect(Date.now() - began).toBeLessThan(1000);
    await until(() => listening.named.includes('goodbye'));
  });
});

/** What comes back for some bytes sent as they are. */
function rawText(origin: string, sent: string): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(Number(new URL(origin).port), '127.0.0.1', () => socket.write(sent));
    let text = '';
    socket.setTimeout(1000, () => socket.destroy());
    socket.on('data', (piece) => {
      text += piece;
      socket.destroy();
    });
    socket.on('error', reject);
    socket.on('close', () => resolve(text));
  });
}

/** The answer to a request whose body never comes. */
function rawHead(page: BrowserPage, line: string, length: string): Promise<string> {
  const headers = { ...page.headers, host: new URL(page.origin).host, 'content-length': length };
  const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`);
  return rawText(page.origin, `${line} HTTP/1.1\r\n${lines.join('')}\r\n`);
}
