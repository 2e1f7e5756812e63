import { basename } from 'node:path';
import type { Session, Take, Voice } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';

/** As names are compared: small letters, composed, since some systems hand out names decomposed. */
function plain(text: string): string {
  return text.normalize('NFC').trim().toLowerCase();
}

/**
 * The one among things that a name tells of: the one called so, else the only one that has it in its name. names: what each may be
 * called. Throws PartsongError 'bad-option'.
 */
function oneNamed<Thing>(
  things: readonly Thing[],
  names: (thing: Thing) => readonly string[],
  wanted: string,
  what: 'voice' | 'take',
): Thing {
  const word = plain(wanted);
  const exact = things.filter((thing) => names(thing).some((name) => plain(name) === word));
  const found = exact.length > 0 ? exact : things.filter((thing) => plain(names(thing)[0]!).includes(word));
  if (found.length === 1 && word !== '') return found[0]!;
  const why =
    found.length === 0
      ? 'none is called so'
      : `${found.length} ${exact.length > 0 ? 'are called so' : 'have that in their names'}`;
  throw new PartsongError(
    'bad-option',
    `The ${what} "${wanted}" is not clear: ${why}.`,
    `The ${what}s are: ${things.map((thing) => names(thing)[0]).join(', ')}.`,
  );
}

/** The voice that a name, or a part of one, tells of. Throws PartsongError 'bad-option'. */
export function voiceNamed(voices: readonly Voice[], name: string): Voice {
  return oneNamed(voices, (voice) => [voice.name], name, 'voice');
}

/** The take that its name, a part of it, or the name of its clip tells of. Throws PartsongError 'bad-option'. */
export function takeNamed({ takes }: Session, name: string): Take {
  const namesOf = ({ name: own, part, clip }: Take): string[] => (part === null ? [own, basename(clip.path)] : [own]);
  return oneNamed(takes, namesOf, name, 'take');
}

/** "NAME=VALUE", parted at the last equals sign, since a name may hold one. Throws PartsongError 'bad-option'. */
export function namedValue(
  text: string,
  option: string,
  example: string,
): { readonly name: string; readonly value: string } {
  const at = text.lastIndexOf('=');
  const name = text.slice(0, at).trim();
  const value = text.slice(at + 1).trim();
  if (at > 0 && name !== '' && value !== '') return { name, value };
  throw new PartsongError(
    'bad-option',
    `"${text}" makes no sense of ${option}.`,
    `For example: ${option} "${example}".`,
  );
}
