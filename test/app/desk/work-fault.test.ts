import { expect, it } from 'vitest';
import { workFault } from '../../../app/desk/work-fault.ts';

const systemError = (code: string, path?: string): Error =>
  Object.assign(new Error(code), { code, syscall: 'open', ...(path === undefined ? {} : { path }) });

it('a clip that went away during the work is told as that clip, not as a target', () => {
  expect(workFault(systemError('ENOENT', '/clips/descant.wav'), '/canon')).toMatchObject({
    code: 'file-unreadable',
    file: '/clips/descant.wav',
  });
});

it('a full disk is told as the target', () => {
  expect(workFault(systemError('ENOSPC'), '/canon')).toMatchObject({ code: 'target-full', file: '/canon' });
  expect(workFault(systemError('EACCES', '/canon/mix.wav'), '/canon')).toMatchObject({ code: 'target-unwritable' });
});

it('what is no system error stays what it is', () => {
  const defect = new TypeError('x');
  expect(workFault(defect, '/canon')).toBe(defect);
});
