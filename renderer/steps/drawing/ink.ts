/** A colour, red, green, blue from 0 to 255. */
export type Rgb = readonly [number, number, number];

/** Reads "#rgb", "#rrggbb" or "rgb(r, g, b)"; black for anything else. */
export function parseColour(text: string): Rgb {
  const plain = text.trim();
  const hex = /^#([0-9a-f]{3}|[0-9a-f]{6})$/i.exec(plain)?.[1];
  if (hex !== undefined) {
    const long = hex.length === 3 ? [...hex].map((digit) => digit + digit).join('') : hex;
    return [0, 2, 4].map((at) => Number.parseInt(long.slice(at, at + 2), 16)) as unknown as Rgb;
  }
  const numbers = plain.match(/[\d.]+/g)?.map(Number) ?? [];
  return [numbers[0] ?? 0, numbers[1] ?? 0, numbers[2] ?? 0];
}

/**
 * 256 colours from paper (0) to ink (255), evenly apart in lightness to the eye, warmed on their way by a touch of brown.
 * Straight lines in OKLab. Source: Ottosson 2020, "A perceptual color space for image processing". RGBA, 1024 bytes.
 */
export function inkPalette(paper: Rgb, ink: Rgb): Uint8ClampedArray {
  const from = toOklab(paper);
  const to = toOklab(ink);
  const palette = new Uint8ClampedArray(1024);
  for (let n = 0; n < 256; n++) {
    const t = n / 255;
    const warmth = 4 * t * (1 - t);
    const mixed: Triple = [
      from[0] + t * (to[0] - from[0]),
      from[1] + t * (to[1] - from[1]) + 0.055 * warmth,
      from[2] + t * (to[2] - from[2]) + 0.06 * warmth,
    ];
    palette.set([...fromOklab(mixed), 255], 4 * n);
  }
  return palette;
}

/** Lightness of a colour in OKLab, 0 black to 1 white. */
export function lightness(colour: Rgb): number {
  return toOklab(colour)[0];
}

type Triple = readonly [number, number, number];

function toOklab(colour: Rgb): Triple {
  const [r, g, b] = colour.map((value) => {
    const share = value / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  }) as unknown as Triple;
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return [
    0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  ];
}

function fromOklab([lightnessOf, a, b]: Triple): Triple {
  const l = (lightnessOf + 0.3963377774 * a + 0.2158037573 * b) ** 3;
  const m = (lightnessOf - 0.1055613458 * a - 0.0638541728 * b) ** 3;
  const s = (lightnessOf - 0.0894841775 * a - 1.291485548 * b) ** 3;
  const linear: Triple = [
    4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
    -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
    -0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s,
  ];
  return linear.map((value) => {
    const held = Math.max(0, Math.min(1, value));
    return 255 * (held <= 0.0031308 ? 12.92 * held : 1.055 * held ** (1 / 2.4) - 0.055);
  }) as unknown as Triple;
}
