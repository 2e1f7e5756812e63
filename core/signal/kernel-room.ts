/** A kernel's memory as its users see it. */
interface Memory {
  /** The address of so many bytes; 0 where the memory cannot grow by as many. */
  allocate(bytes: number): number;
}

/** Where so many bytes lie in a kernel's memory, which may grow: views taken before may be dead after it. Throws where it holds no more. */
export function roomIn(kernel: Memory, bytes: number): number {
  const address = kernel.allocate(bytes);
  if (address === 0) throw new RangeError(`bytes is ${bytes}; allowed what the memory holds`);
  return address;
}
