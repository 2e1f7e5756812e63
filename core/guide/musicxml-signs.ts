import type { BarSigns } from './play-order.ts';
import type { XmlElement } from './xml-element.ts';

/*
 * Where a piece goes on: repeats, endings, jumps and their marks (MusicXML 4.0, elements repeat, ending, sound).
 */

/** What words and signs ask for where no `sound` says it: D.C., D.S., Fine, To Coda, and the signs themselves. */
export function soundOfWords(direction: XmlElement, told: Set<string>): XmlElement | undefined {
  const types = direction.children.filter((one) => one.name === 'direction-type').flatMap((one) => one.children);
  const words = types.find((one) => one.name === 'words')?.text ?? '';
  const found = WORD_SIGNS.find(([pattern]) => pattern.test(words))?.[1];
  const sign = types.some((one) => one.name === 'segno')
    ? 'segno'
    : types.some((one) => one.name === 'coda')
      ? 'coda'
      : undefined;
  const name = found ?? sign;
  if (name === undefined) return undefined;
  if (found !== undefined)
    told.add(`"${words.slice(0, 40)}" was followed by its words, since the file has no sign for it.`);
  return { name: 'sound', attributes: { [name]: 'yes' }, children: [], text: '' };
}

const WORD_SIGNS: readonly (readonly [RegExp, string])[] = [
  [/^(d\.? ?c\b|da capo)/i, 'dacapo'],
  [/^(d\.? ?s\b|dal segno)/i, 'dalsegno'],
  [/^(to|al) coda/i, 'tocoda'],
  [/^fine$/i, 'fine'],
];

/** The signs of a bar with a repeat that one of its bar lines holds. */
export function withRepeat(signs: BarSigns, repeat: XmlElement | undefined): BarSigns {
  if (repeat?.attributes['direction'] === 'forward') return { ...signs, forward: true };
  if (repeat?.attributes['direction'] !== 'backward') return signs;
  const times = Number(repeat.attributes['times']);
  return { ...signs, backward: { times: Number.isInteger(times) && times > 0 ? Math.min(times, 50) : null } };
}

/** The signs of a bar with those of a `sound`. */
export function withSoundSigns(signs: BarSigns, sound: XmlElement | undefined): BarSigns {
  if (sound === undefined) return signs;
  const has = (name: string): boolean => sound.attributes[name] !== undefined && sound.attributes[name] !== 'no';
  return {
    ...signs,
    forward: signs.forward || has('forward-repeat'),
    segno: signs.segno || has('segno'),
    coda: signs.coda || has('coda'),
    toCoda: signs.toCoda || has('tocoda'),
    fine: signs.fine || has('fine'),
    jump: has('dacapo') ? 'daCapo' : has('dalsegno') ? 'dalSegno' : signs.jump,
  };
}

/** The rounds that an ending is for, 1 to 50. */
export function endingNumbers(ending: XmlElement): number[] {
  const numbers = (ending.attributes['number'] ?? '1').match(/\d+/g)?.map(Number) ?? [1];
  return numbers.filter((one) => one >= 1 && one <= 50);
}
