import type { Part } from './score.ts';

/** Parts whose name occurs more than once get a number each. */
export function withOwnNames(parts: readonly Part[]): Part[] {
  const count = new Map<string, number>();
  for (const part of parts) count.set(part.name, (count.get(part.name) ?? 0) + 1);
  const used = new Map<string, number>();
  return parts.map((part) => {
    if (count.get(part.name) === 1) return part;
    const number = (used.get(part.name) ?? 0) + 1;
    used.set(part.name, number);
    return { ...part, name: `${part.name} ${number}` };
  });
}
