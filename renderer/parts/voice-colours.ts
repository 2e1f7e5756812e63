/** The CSS colour of a voice's index 0 to 7 (Okabe-Ito; black turns to paper white by night). */
export function voiceColour(index: number): string {
  return `var(--voice-${index})`;
}

/** Names of the colours, for people who do not see them and for menus. */
export const colourNames = ['blue', 'vermilion', 'green', 'purple', 'orange', 'sky blue', 'black', 'yellow'] as const;
