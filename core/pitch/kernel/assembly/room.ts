/** Where in memory there is room. An instance lays its rooms out once, one after the other, then claims the memory. */

let end: usize = (__heap_base + 63) & ~63;

/** Address of so many bytes, on 64 bytes. They are zero once claimed, and may not be used before. */
export function room(bytes: usize): usize {
  const at = end;
  end = (end + bytes + 63) & ~63;
  return at;
}

/** Goes on behind what somebody else has laid out. */
export function goOnAt(address: usize): void {
  end = (address + 63) & ~63;
}

/** Grows the memory to hold all rooms; false when there is not so much. */
export function claim(): bool {
  const missing = <i32>((end + 0xffff) >> 16) - memory.size();
  return missing <= 0 || memory.grow(missing) >= 0;
}

/** Writes four addresses to a table. */
export function tell(table: usize, a: usize, b: usize, c: usize, d: usize): void {
  store<u32>(table, <u32>a);
  store<u32>(table, <u32>b, 4);
  store<u32>(table, <u32>c, 8);
  store<u32>(table, <u32>d, 12);
}
