import { connect } from 'node:net';
import { describe, expect, it } from 'vitest';
import { BrowserDoors } from './browser-doors.ts';
import { doorSuite, until } from './door-suite.ts';
import { renderJob } from './small-host.ts';

const doors = new BrowserDoors();

doorSuite('the desk through the loopback door', async () => {
  const { host, door, page } = await doors.begin();
  return {
    host,
    call: (name, input) => page.call(name, input),
    listen: async () => (await page.listen()).events,
    media: (route, headers, method) => page.fetch(`/media/${route}`, headers, method),
    page: (path) => page.fetch(path),
    end: () => door.close(),
  };
});

describe('events at the loopback door', () => {
  it('tells a page that comes back what is open now', async () => {
    const { page, host } = await doors.begin();
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
    const { page, host, door } = await doors.begin({ mostUnreadBytes: 65536 });
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
    for (let n = 0; n < 240; n++) {
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

describe('the end of the loopback door', () => {
  it('ends by itself when its last page has been gone for a while, and not before', async () => {
    const { page, door, host } = await doors.begin({ lingerMs: 1000 });
    const first = await page.listen();
    await until(() => first.named.includes('hello'));
    first.stop();
    await new Promise((resolve) => setTimeout(resolve, 50));
    const reloaded = await page.listen();
    await until(() => reloaded.named.includes('hello'));
    await new Promise((resolve) => setTimeout(resolve, 1200));
    expect((await page.call('begin', {})).ok).toBe(true);
    reloaded.stop();
    await door.ended;
    expect(host.listeners).toBe(0);
  });

  it('takes whatever is asked for as a sign of a page that is on its way', async () => {
    const { page, door } = await doors.begin({ lingerMs: 800 });
    const listening = await page.listen();
    await until(() => listening.named.includes('hello'));
    listening.stop();
    for (let n = 0; n < 4; n++) {
      await new Promise((resolve) => setTimeout(resolve, 300));
      expect((await page.raw('GET', '/')).status).toBe(200);
    }
    await door.ended;
  });

  it('waits for its first page without end, and for a render that runs', async () => {
    const { page, door, host } = await doors.begin({ lingerMs: 50 });
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
    const { page, door } = await doors.begin();
    const listening = await page.listen();
    await until(() => listening.named.includes('hello'));
    const began = Date.now();
    await door.close();
    expect(Date.now() - began).toBeLessThan(1000);
    await until(() => listening.named.includes('goodbye'));
  });
});
