import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { cleanFolders } from '../../desk/desk-kit.ts';
import { type TestDesk, testDesk } from './host-kit.ts';

cleanFolders();

describe('the sample session at work', () => {
  let desk: TestDesk;
  beforeAll(async () => {
    desk = testDesk();
    await desk.call('openSample', {});
    await desk.idle();
  });
  afterAll(() => desk.host.close());

  it('is read, cleaned, lined up, balanced and measured by itself', () => {
    const view = desk.host.view()!;
    console.log(JSON.stringify({ ...view, session: undefined }, undefined, 1).slice(0, 9000));
    expect(view.session.takes.every((take) => take.placement !== null)).toBe(true);
  });
});
