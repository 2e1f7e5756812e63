import { describe, expect, it } from 'vitest';
import { BrowserDoors, rawText } from './browser-doors.ts';
import { rawRequest } from './browser-page.ts';

const doors = new BrowserDoors();

describe('who may come in', () => {
  it('gives an address of 127.0.0.1 with a token of 256 bit that no request holds', async () => {
    const { door } = await doors.begin();
    const { hostname, port, hash, search, pathname } = new URL(door.url);
    expect([hostname, pathname, search]).toEqual(['127.0.0.1', '/', '']);
    expect(Number(port)).toBeGreaterThan(1023);
    expect(Buffer.from(hash.slice(1), 'base64url').length).toBe(32);
  });

  it('gives for the token a cookie that script cannot read and no other site can send', async () => {
    const { door } = await doors.start();
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
    const { door } = await doors.begin();
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
    const { door, host, page } = await doors.begin();
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
      const { door, host, page } = await doors.begin();
      const { port } = new URL(door.origin);
      for (const name of ['evil.example', `evil.example:${port}`, `localhost:${port}`, '127.0.0.1', '127.0.0.1:1']) {
        const answer = await page.raw(method, path, { host: name, 'content-length': '0' });
        expect(answer.status, name).toBe(421);
      }
      expect([host.asked, host.routes]).toEqual([[], []]);
    },
  );

  it.each([...guarded, ['POST', '/enter'] as const])('refuses %s %s of a foreign Origin: 403', async (method, path) => {
    const { door, host, page } = await doors.begin();
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
    const { door, page } = await doors.begin();
    const headers = { cookie: page.cookie, 'content-type': 'application/json', 'content-length': '2' };
    expect((await rawRequest(door.origin, method, path, headers, '{}')).status).toBe(403);
  });

  it.each(['cross-site', 'same-site'])('refuses whatever a %s page makes a browser fetch: 403', async (site) => {
    const { page, host } = await doors.begin();
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
    const { page } = await doors.begin();
    const answer = await page.raw('GET', path);
    expect(answer.status).toBe(400);
    expect(answer.text).not.toMatch(/node:|at |\.ts|root/);
  });

  it('refuses unknown addresses, 404, and methods, 405 with those it knows', async () => {
    const { page } = await doors.begin();
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
      const { page, host } = await doors.begin();
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
    const { page, host } = await doors.begin();
    const answer = await page.raw('POST', '/call', { 'content-type': 'application/json' }, body);
    expect(answer.status).toBe(400);
    expect(JSON.parse(answer.text)).toMatchObject({ ok: false, fault: { code: 'bad-call' } });
    expect(host.asked).toEqual([]);
  });

  it('refuses a call that is no UTF-8: 400', async () => {
    const { page } = await doors.begin();
    const body = Buffer.from([0x22, 0xff, 0x22]);
    expect((await page.raw('POST', '/call', { 'content-type': 'application/json' }, body)).status).toBe(400);
  });

  it('refuses a call over 1 MiB, whether it says so or not: 413', async () => {
    const { page, host } = await doors.begin();
    const large = JSON.stringify({ name: 'newSession', input: { title: 'a'.repeat(2 ** 20), folder: null } });
    for (const extra of [{ 'content-length': String(large.length) }, { 'transfer-encoding': 'chunked' }]) {
      const answer = await page.raw('POST', '/call', { 'content-type': 'application/json', ...extra }, large);
      expect(answer.status).toBe(413);
    }
    expect(host.asked).toEqual([]);
  });

  it('answers what is not HTTP, and headers over 16 KiB, and goes on', async () => {
    const { page, door } = await doors.begin();
    expect(await rawText(door.origin, 'no http at all\r\n\r\n')).toContain('400');
    const many = `GET / HTTP/1.1\r\nhost: x\r\nx: ${'a'.repeat(20_000)}\r\n\r\n`;
    expect(await rawText(door.origin, many)).toContain('431');
    expect((await page.call('begin', {})).ok).toBe(true);
  });
});
