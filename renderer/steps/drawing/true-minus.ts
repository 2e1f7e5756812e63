/** A sentence with true minus signs before its numbers. */
export function trueMinus(sentence: string): string {
  return sentence.replace(/(^|[\s(])-(?=\d)/g, '$1−');
}
