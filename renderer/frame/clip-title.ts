import {
  CATALOGUE_WORDS,
  CATCH_ALL_FOLDERS,
  COUNT_WORDS,
  MAKER_WORDS,
  MONTH_WORDS,
  PART_WORDS,
  WEAK_WORDS,
} from './title-words.ts';

/** A word of a name. */
interface Word {
  /** As it is written. */
  readonly text: string;
  /** As words are compared: small letters without accents. */
  readonly key: string;
  /** A part of a title ('word'), a number or a part of a date, or what ends a title ('break': a voice, a take's count). */
  readonly kind: 'word' | 'number' | 'break';
}

/** Letters of a title at most: it names a folder, too. */
const LONGEST = 80;

/**
 * The title that names of clips have in common: the longest run of words that is in all of them, without voices, numbers, dates,
 * counts of takes and what phones write. null where there is none. Names that say nothing, such as IMG_2041 or a guide's, are
 * passed over as long as most say something.
 */
export function titleInCommon(names: readonly string[]): string | null {
  const read = names.map(wordsOf).filter((words) => titleOf(words) !== null);
  const [first, ...others] = read;
  if (first === undefined || 2 * read.length <= names.length) return null;
  let best: string | null = null;
  for (let from = 0; from < first.length; from++) {
    for (let to = from + 1; to <= first.length && first[to - 1]!.kind !== 'break'; to++) {
      const run = first.slice(from, to);
      const title = titleOf(run);
      if (title === null || title.length <= (best?.length ?? 0)) continue;
      if (others.every((words) => holds(words, run))) best = title;
    }
  }
  return best;
}

/** The title that the folder of clips gives, by the clips' paths; null where it is none, or where they lie in several. */
export function titleOfFolder(paths: readonly string[]): string | null {
  const folders = new Set(paths.map((path) => path.split(/[\\/]/).slice(0, -1).join('/')));
  const [above, name] = [...folders][0]?.split('/').slice(-2) ?? [];
  if (folders.size !== 1 || above === undefined || name === undefined) return null;
  // Not the user's own folder, nor a disk's.
  if (/^(home|users|volumes|media|mnt)$/i.test(above) || /\/media\/[^/]*\/[^/]*$/.test([...folders][0]!)) return null;
  return isCatchAll(name) || titleOf(wordsOf(name)) === null ? null : plainTitle(name);
}

/** Whether a folder is one in which clips of all sorts lie, so that its name says nothing of them. */
export function isCatchAll(name: string): boolean {
  const key = keyOf(name.replace(/[-_\s]+/g, ' ').trim()).replace(/\W*\d+\W*$/, '');
  return CATCH_ALL_FOLDERS.has(key) || CATCH_ALL_FOLDERS.has(key.replace(/s$/, ''));
}

/** A name as a title: its words parted by spaces, the first with a capital; '' where nothing is left. */
export function plainTitle(name: string): string {
  const plain = name.replace(/[-_]+/g, ' ').trim().slice(0, LONGEST).trim();
  return plain.charAt(0).toUpperCase() + plain.slice(1);
}

function keyOf(text: string): string {
  return text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();
}

function isOf(set: ReadonlySet<string>, key: string): boolean {
  return set.has(key) || (key.endsWith('s') && set.has(key.slice(0, -1)));
}

/** The words of a name without its ending; "EveningCanon2" has three. */
function wordsOf(name: string): Word[] {
  const bare = (name.split(/[\\/]/).at(-1) ?? '').normalize('NFC').replace(/(?<=.)\.(?=\d*[a-z])[a-z\d]{2,8}$/i, '');
  const parted = bare.replace(/(?<=\p{Ll}{2})(?=\p{Lu})/gu, ' ');
  const texts = parted.match(/\p{L}[\p{L}\p{M}]*(?:['’]\p{L}[\p{L}\p{M}]*)*|\d+(?:st|nd|rd|th)(?!\p{L})|\d+/gu) ?? [];
  const keys = texts.map(keyOf);
  return texts.map((text, n) => ({ text, key: keys[n]!, kind: kindOf(keys[n]!, keys[n - 1], keys[n + 1]) }));
}

const NUMBER = /^(\d.*|i{1,3}|iv|vi{0,3}|ix)$/;

function kindOf(key: string, before: string | undefined, after: string | undefined): Word['kind'] {
  const isNumber = (one: string | undefined): boolean => one !== undefined && /^\d/.test(one);
  const isYear = (one: string | undefined): boolean => one !== undefined && /^(19|20)\d\d$/.test(one);
  if (MONTH_WORDS.has(key) && (isYear(before) || isYear(after) || (isNumber(before) && isNumber(after))))
    return 'number';
  if (COUNT_WORDS.has(key) && (after === undefined || NUMBER.test(after))) return 'break';
  if (NUMBER.test(key)) return 'number';
  return isOf(PART_WORDS, key) || isOf(MAKER_WORDS, key) ? 'break' : 'word';
}

/** Whether a word alone may be a title: three letters of an alphabet, or two signs of other writing. */
function isTelling({ key, kind }: Word): boolean {
  if (kind !== 'word' || WEAK_WORDS.has(key)) return false;
  return key.length >= (/^[\p{Script=Latin}\p{Script=Greek}\p{Script=Cyrillic}'’]+$/u.test(key) ? 3 : 2);
}

/** Words as a title, without what does not belong to one at their ends; null where nothing telling is left. */
function titleOf(words: readonly Word[]): string | null {
  let from = 0;
  let to = words.length;
  while (from < to && words[from]!.kind !== 'word') from++;
  while (to > from && isLoose(words[to - 1]!, words[to - 2])) to--;
  const kept = words.slice(from, to);
  if (!kept.some(isTelling)) return null;
  const title = kept.reduce((sum, { text }) => (`${sum} ${text}`.length > LONGEST ? sum : `${sum} ${text}`), '').trim();
  return title === '' ? null : title.charAt(0).toUpperCase() + title.slice(1);
}

/** Whether a word at the end of a title does not belong to it. */
function isLoose({ key, kind }: Word, before: Word | undefined): boolean {
  if (kind === 'break') return true;
  if (kind === 'number') return before === undefined || !CATALOGUE_WORDS.has(before.key);
  if (key.length === 1 && /\p{Script=Latin}/u.test(key)) return before?.key !== 'in';
  return WEAK_WORDS.has(key) || (CATALOGUE_WORDS.has(key) && key.length < 3);
}

function holds(words: readonly Word[], run: readonly Word[]): boolean {
  return words.some((_, at) => run.every(({ key }, n) => words[at + n]?.key === key));
}
