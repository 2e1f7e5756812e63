import { BaseSequencer, type TestSpecification } from 'vitest/node';

/** Small files that take long: 12 s of the last one's time one of two cores had nothing left to do. */
const FIRST = ['test/core/kernels.test.ts', 'test/app/work/mix-memory.judge.test.ts'];

/** Large files first, as ever, since they mostly take longest; before them the small ones that take long too. */
export default class SmallButLong extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const isFirst = ({ moduleId }: TestSpecification): boolean => FIRST.some((name) => moduleId.endsWith(name));
    const sorted = await super.sort(files);
    return [...sorted.filter(isFirst), ...sorted.filter((file) => !isFirst(file))];
  }
}
