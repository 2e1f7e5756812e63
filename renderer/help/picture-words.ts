import type { Explanation } from './words.ts';

/** The picture. */
export const pictureWords = {
  tiling: {
    name: 'Tiling',
    text: 'How the clips lie beside one another on the canvas. It is computed from their shapes so that little is left empty and little is cut off; you can move each tile by hand afterwards.',
  },
  waste: {
    name: 'Left empty',
    text: 'Share of the canvas that no tile covers, where the background is seen.',
  },
  cropped: {
    name: 'Cut off',
    text: 'How much of the clips’ pictures is not seen, on average, because a tile has another shape than its clip.',
  },
  pictureRate: {
    name: 'Pictures a second',
    text: 'How often the picture changes. The rate of the fastest clip shows every picture there is. Clips whose pictures fall between each other’s keep nearer to their sound at a higher rate; left to itself, the rate is chosen so that no tile is more than 10 ms off.',
  },
  safeMargin: {
    name: 'Safe margin',
    text: 'Some screens hide the outermost part of a picture. Names and titles stay within 90 % of its width and height (EBU R 95).',
  },
} as const satisfies Readonly<Record<string, Explanation>>;
