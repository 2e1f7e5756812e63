import { describe, expect, it } from 'vitest';
import { MemoryStore } from '../../../core/lineup/byte-store.ts';
import { loadListenKernel } from '../../../core/lineup/kernel/listen-kernel.ts';
import { KernelHearing } from '../../../core/lineup/kernel-hearing.ts';
import { roomIn } from '../../../core/signal/kernel-room.ts';

describe("room in a kernel's memory", () => {
  it('is where the kernel says', () => {
    expect(roomIn({ allocate: (bytes) => 64 + bytes }, 36)).toBe(100);
  });

  it('is refused with the bytes asked for where the memory holds no more', () => {
    expect(() => roomIn({ allocate: () => 0 }, 36)).toThrow(
      new RangeError('bytes is 36; allowed what the memory holds'),
    );
  });

  it('is not taken for address 0 by who listens, after the kernel has made its own', () => {
    const kernel = { ...loadListenKernel()!, allocate: () => 0 };
    const stores = { steps: new MemoryStore(), levels: new MemoryStore() };
    expect(() => new KernelHearing(kernel, 48_000, stores)).toThrow(RangeError);
  });
});
