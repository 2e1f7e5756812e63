import { expect, it } from 'vitest';
import type { FaultView } from '../../../app/shell/contract/desk-view.ts';
import { alikeFaults } from '../../../renderer/frame/alike-faults.ts';

const fault = (message: string, nextStep: string, code: FaultView['code'] = 'bad-option'): FaultView => ({
  code,
  message,
  nextStep,
  file: null,
});

it('puts faults together that are of one kind and ask for the same, in the order of their first', () => {
  const [one, other, third] = [
    fault('a is there already', 'Nothing'),
    fault('the disk is full', 'Make room', 'target-full'),
    fault('b is there already', 'Nothing'),
  ];
  expect(alikeFaults([one, other, third])).toEqual([[one, third], [other]]);
});
