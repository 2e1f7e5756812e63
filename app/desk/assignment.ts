import { basename, resolve } from 'node:path';
import { PartsongError } from '../../core/signal/fault.ts';
import { bareName, voiceKeyOf, voiceNameOf, withoutAttempt } from './names.ts';

/**
 * Which clip is of which voice. 'clip': each is a voice of its own. 'name': those whose names differ only in the count of the
 * attempt are of one voice. 'order': every `each` clips in a row are.
 */
export type AssignRule =
  | { readonly by: 'clip' }
  | { readonly by: 'name' }
  | { readonly by: 'order'; readonly each: number };

/** A voice that was named by hand, and its clips. */
export interface NamedVoice {
  readonly name: string;
  readonly clips: readonly string[];
}

/** A voice and the clips of it, in order, each once. */
export interface AssignedVoice {
  readonly name: string;
  readonly clips: readonly string[];
}

/**
 * Gives clips to voices. Voices named by hand come where the first of their clips stands, or behind the others where it stands
 * nowhere else; the rest goes by the rule. Throws PartsongError 'bad-option' where a clip is given to two voices by hand, and where
 * clips cannot be dealt out evenly.
 */
export function assignClips(
  clips: readonly string[],
  rule: AssignRule,
  byHand: readonly NamedVoice[] = [],
): AssignedVoice[] {
  const handOf = new Map<string, string>();
  for (const { name, clips: own } of byHand) {
    for (const clip of own) {
      const other = handOf.get(resolve(clip));
      if (other !== undefined && other !== name) throw givenTwice(clip, other, name);
      handOf.set(resolve(clip), name);
    }
  }
  const rest = clips.filter((clip) => !handOf.has(resolve(clip)));
  const ruled = new Map<string, string>();
  if (rule.by === 'order') refuseUneven(rest.length, rule.each);
  rest.forEach((clip, index) => {
    const key =
      rule.by === 'clip'
        ? `clip ${index}`
        : rule.by === 'name'
          ? `name ${voiceKeyOf(voiceNameOf(clip))}`
          : `order ${Math.floor(index / rule.each)}`;
    ruled.set(resolve(clip), key);
  });
  const voices = new Map<string, { name: string | null; clips: string[] }>();
  const seen = new Set<string>();
  for (const clip of [...clips, ...byHand.flatMap((voice) => voice.clips)]) {
    const path = resolve(clip);
    if (seen.has(path)) continue;
    seen.add(path);
    const hand = handOf.get(path);
    const key = hand === undefined ? ruled.get(path)! : `hand ${hand}`;
    const voice = voices.get(key) ?? { name: hand ?? null, clips: [] };
    voice.clips.push(clip);
    voices.set(key, voice);
  }
  return [...voices.values()].map((voice) => ({
    name: voice.name ?? commonName(voice.clips, rule),
    clips: voice.clips,
  }));
}

/** A voice is called after its first clip; without the count of the attempt where it has several, or where names tell voices apart without it. */
function commonName(clips: readonly string[], { by }: AssignRule): string {
  const name = voiceNameOf(clips[0]!);
  return clips.length > 1 || by === 'name' ? withoutAttempt(name) : name;
}

/** What "NAME=CLIP,CLIP" says. Throws PartsongError 'bad-option'. */
export function namedVoice(text: string, exists: (path: string) => boolean): NamedVoice {
  const at = text.indexOf('=');
  const name = text.slice(0, at).trim();
  const list = text.slice(at + 1);
  // A comma may be part of a clip's name.
  const clips = exists(list) ? [list] : list.split(',').map((clip) => clip.trim());
  if (at <= 0 || name === '' || clips.some((clip) => clip === '')) {
    throw new PartsongError(
      'bad-option',
      `"${text}" does not say which clips are of which voice.`,
      'Write the voice, an equals sign, and its clips with commas between: --voice "Tenor=a.mov,b.mov".',
    );
  }
  return { name, clips };
}

/** The fault of a command that names no clips. */
export function noClips(): PartsongError {
  return new PartsongError(
    'bad-option',
    'No clips are named.',
    'Name the clips, or the clips of each voice with --voice.',
  );
}

function givenTwice(clip: string, one: string, other: string): PartsongError {
  return new PartsongError(
    'bad-option',
    `${basename(clip)} is given to two voices: ${one} and ${other}.`,
    'Give each clip to one voice.',
    clip,
  );
}

function refuseUneven(count: number, each: number): void {
  if (count % each === 0) return;
  throw new PartsongError(
    'bad-option',
    `${count} clips cannot be ${each} takes of each voice: ${count % each} would be left over.`,
    'Name as many clips for each voice, or name the clips of a voice with --voice.',
  );
}

/** A take is called as its clip; its parts are counted. */
export function takeNameOf(clip: string, part: number | null): string {
  return part === null ? bareName(clip).slice(0, 200) : `${bareName(clip).slice(0, 190)}, ${part}`;
}
