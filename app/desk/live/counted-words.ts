/** "One take", "3 takes". */
export function counted(count: number, one: string, many: string): string {
  return count === 1 ? `One ${one}` : `${count} ${many}`;
}

/** Of so many things: "it", "them". */
export function it(count: number): string {
  return count === 1 ? 'it' : 'them';
}

/** Of so many things: "it was", "they were". */
export function was(count: number): string {
  return count === 1 ? 'it was' : 'they were';
}

/** "Horn", "Horn and Tuba", "Horn, Tuba and 3 more". */
export function names(all: readonly { readonly name: string }[]): string {
  const few = all.length <= 3 ? all : all.slice(0, 2);
  const parts = few.map(({ name }) => name);
  const last = few.length < all.length ? `${all.length - few.length} more` : parts.pop();
  return parts.length === 0 ? String(last) : `${parts.join(', ')} and ${last}`;
}
