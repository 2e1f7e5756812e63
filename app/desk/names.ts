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
    .replace(/[_\s]+/g, ' ')
    .replace(/(\p{L})-(?=\p{L})/gu, '$1 ')
    .trim();
  const unnumbered = words.replace(/^\d{1,3}[\s.\-–:)]*(?=\p{L})/u, '').trim();
  return unnumbered === '' ? words || bareName(file) : unnumbered;
}

/** Names made different where two are the same (as file systems see it): the second becomes "name (2)". */
export function uniqueNames(names: readonly string[]): string[] {
  const taken = new Set<string>();
  return names.map((name) => {
    let candidate = name;
    for (let n = 2; taken.has(candidate.normalize('NFC').toLowerCase()); n++) candidate = `${name} (${n})`;
    taken.add(candidate.normalize('NFC').toLowerCase());
    return candidate;
  });
}

/** Words that mark the lowest voice in the names of instruments and voices. Common practice, no source. */
const BASS_WORDS =
  /(^|[^\p{L}])(contra|double|kontra)?(bass|basse|basso|bas|cello|violoncello|tuba|bassoon|fagott|pluckbass)($|[^\p{L}])/iu;

/**
 * Roles from names: the lead is the voice whose name holds `lead`, a bass is known by its name, the rest are inner
 * voices. Throws PartsongError 'bad-option' when no name or more than one holds `lead`.
 */
export function rolesOf(names: readonly string[], lead: string | undefined): Role[] {
  const wanted = lead?.trim().toLowerCase();
  const matching = wanted === undefined ? [] : names.filter((name) => name.toLowerCase().includes(wanted));
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
