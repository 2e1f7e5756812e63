import { describe, expect, it } from 'vitest';
import { setLine } from '../../../core/letters/set-line.ts';
import { draw, namePlate, titleCard, unknownSigns } from '../../../core/picture/drawings.ts';
import { inkOf, Raster } from '../../../core/picture/raster.ts';

const ASCII = Array.from({ length: 94 }, (_, index) => String.fromCharCode(33 + index));
const LATIN = [...'ÄÖÜäöüßéèêëáàâãåæçñøœÆŒØÅČŠŽčšžřďěůőűąęłńśźżĐđğışțăîÞðþ«»„“”‘’–—…€£°¿¡'];

const CYRILLIC = [...'АБВГДЕЁЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдеёжзийклмнопрстуфхцчшщъыьэюяЄІЇҐєіїґЂЈЉЊЋЏђјљњћџЃЌЎѓќў№'];
const GREEK = [...'ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρσςτυφχψωάέήίόύώϊϋΐΰ'];
const VIETNAMESE = [...'ăâđêôơưàảãáạằẳẵắặầẩẫấậệểễếềộổỗốồợởỡớờựửữứừỹỷỵỳý'];

/** Where a sign's strokes lie: for telling signs apart. */
function shape(sign: string): string {
  return JSON.stringify(setLine(sign, 20).pieces.map((piece) => piece.map((value) => Math.round(value * 4))));
}

describe('letters of our own', () => {
  it('know every sign of ASCII and the letters of Latin languages', () => {
    for (const sign of [...ASCII, ...LATIN]) expect(setLine(sign, 20).unknown, sign).toEqual([]);
    expect(setLine('ж漢', 20).unknown).toEqual(['漢']);
  });

  it('know the letters of Greek, Cyrillic and Vietnamese, and tell those of one script apart', () => {
    for (const sign of [...CYRILLIC, ...GREEK, ...VIETNAMESE]) expect(setLine(sign, 20).unknown, sign).toEqual([]);
    for (const script of [CYRILLIC, GREEK]) {
      // Round o and its like are the same in both cases but for their size.
      const shapes = new Map(script.map((sign) => [shape(sign), sign]));
      expect(shapes.size).toBe(script.length);
    }
  });

  it('tell all signs of ASCII apart', () => {
    expect(new Set(ASCII.map(shape)).size).toBe(ASCII.length);
    expect(shape('ö')).not.toBe(shape('o'));
  });

  it('keep their strokes within the line, half a pen from its edges', () => {
    for (const sign of [...ASCII, ...LATIN, ...CYRILLIC, ...GREEK]) {
      const { pieces, widthPx, heightPx, strokePx } = setLine(`H${sign}H`, 20);
      for (const [x0, y0, x1, y1] of pieces) {
        expect(Math.min(x0, x1), sign).toBeGreaterThanOrEqual(strokePx / 2 - 1e-6);
        expect(Math.max(x0, x1), sign).toBeLessThanOrEqual(widthPx - strokePx / 2 + 1e-6);
        expect(Math.min(y0, y1), sign).toBeGreaterThanOrEqual(strokePx / 2 - 1e-6);
        expect(Math.max(y0, y1), sign).toBeLessThanOrEqual(heightPx - strokePx / 2 + 1e-6);
      }
    }
  });

  it('are drawn with smooth edges: ink of a stroke is its length times its pen within 6 %', () => {
    const raster = new Raster({ widthPx: 120, heightPx: 40 });
    raster.strokes([[20, 20.3, 100, 20.3]], 6, 0, 0, inkOf('#ffffff'));
    let ink = 0;
    for (let at = 3; at < raster.data.length; at += 4) ink += raster.data[at]! / 255;
    // A bar of 80 x 6 px and a round end of 3 px at both sides.
    const area = 80 * 6 + Math.PI * 9;
    expect(Math.abs(ink / area - 1)).toBeLessThan(0.06);
  });

  it('fit a name on its plate and a title on its card, even px', () => {
    const plate = namePlate('Flöte II', 14);
    const card = titleCard('Evening Canon for many voices and a very long name', 'by one', {
      widthPx: 600,
      heightPx: 400,
    });
    for (const { size } of [plate, card]) expect([size.widthPx % 2, size.heightPx % 2]).toEqual([0, 0]);
    expect(card.size.widthPx).toBeLessThanOrEqual(600);
    expect(unknownSigns(plate)).toEqual([]);
    const raster = draw(plate);
    const edge = (x: number): number => raster.data[(Math.floor(raster.heightPx / 2) * raster.widthPx + x) * 4]!;
    // Letters are light; the plate's own edges are dark.
    expect(edge(1)).toBeLessThan(40);
    expect(Math.max(...raster.data)).toBe(255);
  });
});
