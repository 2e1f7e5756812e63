import { mixed, type Word, wordOf } from './pixel-sheet.ts';

/** The colours lanes are drawn with, taken from the theme's tokens. `css` ones are for text. */
export interface Palette {
  readonly sheet: Word;
  /** Outside the stretch that sounds in the mix. */
  readonly outside: Word;
  readonly paper: Word;
  readonly staff: Word;
  readonly rule: Word;
  readonly edge: Word;
  readonly ink: Word;
  readonly faint: Word;
  readonly mark: Word;
  readonly wrong: Word;
  readonly silence: Word;
  readonly silenceHatch: Word;
  readonly stretch: Word;
  readonly stretchEdge: Word;
  readonly inHand: Word;
  /** Waveforms by colour index, and their pale form (before cleaning, or muted). */
  readonly voices: readonly Word[];
  readonly paleVoices: readonly Word[];
  /** Behind what a step draws over the lanes. */
  readonly faintVoices: readonly Word[];
  readonly guide: Word;
  readonly ghost: Word;
  readonly css: {
    readonly ink: string;
    readonly faint: string;
    readonly mark: string;
    readonly wrong: string;
    readonly sheet: string;
    readonly text: string;
  };
}

type Rgb = readonly [number, number, number];

/** Contrast of two colours, 1 to 21. Source: WCAG 2.2, relative luminance and contrast ratio. */
export function contrast(a: Rgb, b: Rgb): number {
  const [one, other] = [luminance(a), luminance(b)];
  return (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
}

function luminance(colour: Rgb): number {
  const [red, green, blue] = colour.map((part) => {
    const share = part / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}

/** A colour moved towards `ink` until it stands 3 : 1 or more against `ground` (WCAG 2.2, 1.4.11). */
export function legibleOn(colour: Rgb, ground: Rgb, ink: Rgb): Rgb {
  for (let share = 0; share < 1; share += 0.05) {
    const moved = colour.map((part, n) => part + (ink[n]! - part) * share) as unknown as Rgb;
    if (contrast(moved, ground) >= 3) return moved;
  }
  return ink;
}

/** Reads the theme as it is now. */
export function readPalette(root: HTMLElement): Palette {
  const style = getComputedStyle(root);
  const token = (name: string): string => style.getPropertyValue(name).trim();
  const rgb = (name: string): Rgb => parseHex(token(name)) ?? [128, 128, 128];
  const word = (name: string): Word => wordOf(...rgb(name));
  const sheet = word('--sheet');
  const ink = rgb('--ink');
  const voices = Array.from({ length: 8 }, (_, n) => {
    const [red, green, blue] = legibleOn(rgb(`--voice-${n}`), rgb('--sheet'), ink).map(Math.round) as [
      number,
      number,
      number,
    ];
    return wordOf(red, green, blue);
  });
  const silence = mixed(sheet, word('--quiet'), 0.75);
  return {
    sheet,
    outside: mixed(sheet, word('--quiet'), 0.35),
    paper: word('--paper'),
    staff: mixed(sheet, word('--rule'), 0.6),
    rule: word('--rule'),
    edge: word('--edge'),
    ink: wordOf(...ink),
    faint: word('--faint'),
    mark: word('--mark'),
    wrong: word('--wrong'),
    silence,
    silenceHatch: mixed(silence, word('--edge'), 0.4),
    stretch: mixed(sheet, word('--focus'), 0.18),
    stretchEdge: word('--focus'),
    inHand: mixed(sheet, word('--mark-sheet'), 0.55),
    voices,
    paleVoices: voices.map((voice) => mixed(sheet, voice, 0.32)),
    faintVoices: voices.map((voice) => mixed(sheet, voice, 0.17)),
    guide: mixed(sheet, wordOf(...ink), 0.62),
    ghost: mixed(sheet, wordOf(...ink), 0.3),
    css: {
      ink: token('--ink'),
      faint: token('--faint'),
      mark: token('--mark'),
      wrong: token('--wrong'),
      sheet: token('--sheet'),
      text: token('--text') || 'sans-serif',
    },
  };
}

function parseHex(text: string): Rgb | undefined {
  const long = /^#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})$/i.exec(text);
  if (long !== null) return [1, 2, 3].map((n) => Number.parseInt(long[n]!, 16)) as unknown as Rgb;
  const short = /^#([0-9a-f])([0-9a-f])([0-9a-f])$/i.exec(text);
  return short === null ? undefined : ([1, 2, 3].map((n) => 17 * Number.parseInt(short[n]!, 16)) as unknown as Rgb);
}

/** Tells when the page's colours are others: by choice, or with the system's day and night. Returns how to end. */
export function onThemeChange(repaint: () => void): () => void {
  const themed = new MutationObserver(repaint);
  themed.observe(document.documentElement, { attributes: true, attributeFilter: ['data-theme', 'class', 'style'] });
  const night = matchMedia('(prefers-color-scheme: dark)');
  night.addEventListener('change', repaint);
  return () => {
    themed.disconnect();
    night.removeEventListener('change', repaint);
  };
}
