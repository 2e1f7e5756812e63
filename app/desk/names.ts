import { basename, extname } from 'node:path';
import type { Role } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';

/** A clip's name without folder and ending. */
export function bareName(file: string): string {
  const name = basename(file);
  const bare = name.slice(0, name.length - extname(name).length);
  return bare === '' ? name : bare;
}

/** The voice a clip's name tells: "02_tenor_recorder-t1.mov" gives "tenor recorder t1". */
export function voiceNameOf(file: string): string {
  const words = bareName(file)
    .normalize('NFC')
    .replace(/[_\s]+/g, ' ')
    .replace(/(\p{L})-(?=\p{L})/gu, '$1 ')
    .trim();
  const unnumbered = words.replace(/^\d{1,3}[\s.\-–:)]*(?=\p{L})/u, '').trim();
  return unnumbered === '' ? words || bareName(file) : unnumbered;
}

/** What tells attempts of one voice apart in their names: "take 2", "t2", "(2)". */
const ATTEMPT = /[\s_.,-]*(?:\(\d{1,2}\)|\b(?:take|t)[\s_.-]?\d{1,2})\s*$/iu;

/** A voice's name without the count of the attempt: "Tenor take 2" gives "Tenor"; the same where nothing else is left. */
export function withoutAttempt(name: string): string {
  return name.replace(ATTEMPT, '').trim() || name;
}

/** How names of one voice are known to be the same, whatever attempt they count. */
export function voiceKeyOf(name: string): string {
  return withoutAttempt(name).normalize('NFC').toLowerCase();
}

/** Bytes of a file's name that leave room for "(2)" and an ending; file systems allow 255. */
const LONGEST_NAME_BYTES = 240;

/**
 * Names made different where two are the same (as file systems see it): the second becomes "name (2)". A name too long
 * to be given another ending is cut.
 */
export function uniqueNames(names: readonly string[]): string[] {
  const taken = new Set<string>();
  return names.map(cutToBytes).map((name) => {
    let candidate = name;
    for (let n = 2; taken.has(candidate.normalize('NFC').toLowerCase()); n++) candidate = `${name} (${n})`;
    taken.add(candidate.normalize('NFC').toLowerCase());
    return candidate;
  });
}

/** Characters that have a meaning in paths, and those that only Windows does not take. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for.
const PATH_CHARACTERS = /[\u0000-\u001f\u007f/\\]/g;
const WINDOWS_CHARACTERS = /[:*?"<>|]/g;

/** A name as this system takes it for a file, without what has a meaning there; '' when nothing is left. */
export function fileNameOf(name: string, platform = process.platform): string {
  return (platform === 'win32' ? name.replace(WINDOWS_CHARACTERS, '_') : name)
    .replace(PATH_CHARACTERS, '_')
    .replace(/^\.+/, '_')
    .replace(/[. ]+$/, '')
    .trim();
}

function cutToBytes(name: string): string {
  const letters = [...name];
  while (Buffer.byteLength(letters.join('')) > LONGEST_NAME_BYTES) letters.pop();
  return letters.join('').trim() || name;
}

/** Words that mark the lowest voice in the names of instruments and voices. Common practice, no source. */
const BASS_WORDS =
  /(^|[^\p{L}])(contra|double|kontra)?(bass|basse|basso|bas|cello|violoncello|tuba|bassoon|fagott|pluckbass)($|[^\p{L}])/iu;

/**
 * Roles from names, each "voice (file)": the lead is the voice that is called `lead`, else the one whose name holds it,
 * whatever the case and the Unicode form; a bass is known by its name, the rest are inner voices. Throws PartsongError
 * 'bad-option' when no name or more than one holds `lead`.
 */
export function rolesOf(names: readonly string[], lead: string | undefined): Role[] {
  const wanted = lead === undefined ? undefined : plain(lead);
  const holding = names.filter((name) => wanted !== undefined && wanted !== '' && plain(name).includes(wanted));
  const exact = holding.filter((name) => plain(name).startsWith(`${wanted} (`));
  const matching = exact.length === 1 ? exact : holding;
  if (wanted !== undefined && matching.length !== 1) {
    const whose =
      matching.length === 0 ? 'no clip has that in its name' : `${matching.length} clips have it in their names`;
    throw new PartsongError(
      'bad-option',
      `The lead "${lead}" is not clear: ${whose}.`,
      `Give --lead a part of one of these names: ${names.join(', ')}.`,
    );
  }
  return names.map((name) => (name === matching[0] ? 'lead' : BASS_WORDS.test(name) ? 'bass' : 'inner'));
}

/** As names are compared: small letters, composed, since some systems hand out names decomposed. */
function plain(text: string): string {
  return text.normalize('NFC').trim().toLowerCase();
}
