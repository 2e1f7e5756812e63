import { afterEach, describe, expect, it, vi } from 'vitest';
import { keep, kept, settingIn } from '../../../renderer/parts/kept.ts';

afterEach(() => vi.unstubAllGlobals());

/** A browser's page at some port: cookies are shared with the other ports of the host, the store is not. */
function pageWith(jar: { cookie: string }) {
  const store = new Map<string, string>();
  vi.stubGlobal('localStorage', {
    getItem: (key: string) => store.get(key) ?? null,
    setItem: (key: string, value: string) => store.set(key, value),
  });
  vi.stubGlobal('document', {
    get cookie() {
      return jar.cookie;
    },
    set cookie(line: string) {
      jar.cookie = [jar.cookie, line.split('; ')[0]].filter((one) => one !== '').join('; ');
    },
  });
}

describe('settings of the page', () => {
  it('are found again when the desk is started anew at another port', () => {
    const jar = { cookie: '' };
    pageWith(jar);
    keep('lanes', '{"size":"low"}');
    keep('theme', 'night');
    pageWith(jar);
    expect([kept('lanes'), kept('theme'), kept('other')]).toEqual(['{"size":"low"}', 'night', null]);
  });

  it('are none where a cookie is not whole, or the browser keeps nothing', () => {
    expect(settingIn('a=1; partsong.theme=%E0%A4%A', 'theme')).toBeNull();
    vi.stubGlobal('document', { cookie: '' });
    vi.stubGlobal('localStorage', undefined);
    keep('theme', 'day');
    expect(kept('theme')).toBeNull();
  });
});
