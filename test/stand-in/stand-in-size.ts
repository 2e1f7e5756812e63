/** Size of the picture of take `n`, px. */
export function standInSize(n: number): { widthPx: number; heightPx: number } {
  return n % 3 === 1 ? { widthPx: 180, heightPx: 320 } : { widthPx: 320, heightPx: 180 };
}
