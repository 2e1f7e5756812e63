import { readdir, stat } from 'node:fs/promises';
import { basename, extname, join, resolve } from 'node:path';
import type { Edit } from '../../../core/session/edit.ts';
import type { Session, Take } from '../../../core/session/schema.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { probe } from '../../media/probe.ts';
import { bareName, rolesOf, voiceKeyOf, voiceNameOf, withoutAttempt } from '../names.ts';
import { freshIds, newVoice } from '../session/add-takes.ts';
import { identify, type Known } from '../take-in.ts';

/** Endings of clips that are taken from a folder; files named one by one are tried whatever their ending. */
const MEDIA_ENDINGS = new Set(
  '.3gp .aac .aif .aiff .amr .avi .caf .flac .m4a .m4v .mka .mkv .mov .mp3 .mp4 .oga .ogg .opus .wav .wave .webm .wma'.split(
    ' ',
  ),
);
/** Folders within folders are looked through so deep. */
const DEEPEST = 4;
const MOST_FILES = 500;
/** A folder with more in it is none of clips. */
const MOST_ENTRIES = 20_000;
/** Clips looked into at a time. */
const AT_A_TIME = 4;
/** Folders of a session that hold no clips. */
const OWN_FOLDERS = new Set(['caches', 'guide', 'guides', 'renders', 'stems']);

/** A clip that can be read. */
export interface NewClip {
  readonly file: string;
  readonly sizeBytes: number;
  readonly fingerprint: string;
}

/** Clips that can be added, and why others cannot. */
export interface Looked {
  readonly clips: readonly NewClip[];
  readonly faults: readonly unknown[];
}

/**
 * Looks into files, and into the clips of folders, in the order of their names. isRead: the clip was read before and is
 * known to be good.
 */
export async function lookInto(paths: readonly string[], isRead: (known: Known) => boolean): Promise<Looked> {
  const faults: unknown[] = [];
  const files: string[] = [];
  const budget = { entries: MOST_ENTRIES };
  for (const path of paths) {
    const found = await clipsAt(resolve(path), budget);
    if (found.length === 0) faults.push(emptyFolder(path));
    files.push(...found);
  }
  const unique = [...new Set(files)];
  if (unique.length > MOST_FILES) {
    const message = `There are ${unique.length} clips; ${MOST_FILES} can be added at a time.`;
    throw new PartsongError('bad-option', message, 'Choose fewer.', paths[0]);
  }
  const clips: (NewClip | undefined)[] = unique.map(() => undefined);
  let next = 0;
  const look = async (): Promise<void> => {
    while (next < unique.length) {
      const at = next++;
      const file = unique[at]!;
      try {
        const known = await identify(file, true);
        if (!isRead(known)) await probe(file);
        const { sizeBytes, fingerprint } = known;
        clips[at] = { file, sizeBytes, fingerprint };
      } catch (fault) {
        faults.push(fault);
      }
    }
  };
  await Promise.all(Array.from({ length: AT_A_TIME }, look));
  return { clips: clips.filter((clip) => clip !== undefined), faults };
}

async function clipsAt(path: string, budget: { entries: number }, depth = 0): Promise<string[]> {
  const facts = await stat(path).catch(() => undefined);
  // A file that is not there is told when it is looked into.
  if (facts === undefined || !facts.isDirectory()) return [path];
  const entries = await readdir(path, { withFileTypes: true }).catch(() => []);
  budget.entries -= entries.length;
  if (budget.entries < 0) {
    throw new PartsongError(
      'bad-option',
      `${path} and the folders beside it hold more than ${MOST_ENTRIES} files.`,
      'Choose the folder in which the clips are.',
      path,
    );
  }
  const names = entries
    .filter(({ name }) => !name.startsWith('.'))
    .sort((one, other) => one.name.localeCompare(other.name, 'en', { numeric: true }));
  const found: string[] = [];
  for (const entry of names) {
    if (entry.isDirectory()) {
      if (depth < DEEPEST && !OWN_FOLDERS.has(entry.name)) {
        found.push(...(await clipsAt(join(path, entry.name), budget, depth + 1)));
      }
    } else if (MEDIA_ENDINGS.has(extname(entry.name).toLowerCase())) found.push(join(path, entry.name));
  }
  return found;
}

function emptyFolder(path: string): PartsongError {
  return new PartsongError('file-missing', `${path} holds no clips.`, 'Choose the folder the clips are in.', path);
}

const COLOURS = 6;

/** The edit that adds clips to a session, and those that are there already. */
export interface Addition {
  readonly edit: Edit | undefined;
  readonly added: number;
  readonly repeated: readonly unknown[];
}

/**
 * Where new clips go: all to one voice, or to a voice of their own each. Clips whose names differ only in the count of
 * the attempt ("tenor take 2") are takes of one voice, be it new or there.
 */
export function additionOf(
  session: Session,
  clips: readonly NewClip[],
  voiceId: string | null,
  keptPath: (file: string) => string,
): Addition {
  const known = new Map(session.takes.map((take) => [take.clip.fingerprint, take.name]));
  const repeated: unknown[] = [];
  const fresh = clips.filter((clip) => {
    const name = known.get(clip.fingerprint);
    if (name !== undefined) repeated.push(repeatFault(clip.file, name));
    else known.set(clip.fingerprint, bareName(clip.file));
    return name === undefined;
  });
  if (fresh.length === 0) return { edit: undefined, added: 0, repeated };
  const takeIds = freshIds('take', session.takes);
  const voiceIds = freshIds('voice', session.voices);
  const edits: Exclude<Edit, { kind: 'together' }>[] = [];
  const hasTake = new Set(session.voices.filter((voice) => voice.chosenTakeId !== null).map((voice) => voice.id));
  const voiceOf = new Map(session.voices.map((voice) => [voiceKeyOf(voice.name), voice.id]));
  const names = newVoiceNames(fresh, voiceOf);
  const roles = rolesOf(
    fresh.map(({ file }, index) => `${names[index] ?? ''} (${basename(file)})`),
    undefined,
  );
  fresh.forEach((clip, index) => {
    let home = voiceId ?? voiceOf.get(voiceKeyOf(voiceNameOf(clip.file)));
    if (home === undefined) {
      home = voiceIds();
      const name = (names[index] ?? voiceNameOf(clip.file)).slice(0, 200);
      const colour = (session.voices.length + edits.filter((edit) => edit.kind === 'addVoice').length) % COLOURS;
      edits.push({ kind: 'addVoice', voice: newVoice(home, name, roles[index]!, colour) });
      voiceOf.set(voiceKeyOf(voiceNameOf(clip.file)), home);
    }
    const take = newTake(takeIds(), home, clip, keptPath);
    edits.push({ kind: 'addTake', take });
    if (hasTake.has(home)) return;
    hasTake.add(home);
    edits.push({ kind: 'chooseTake', voiceId: home, takeId: take.id });
  });
  const label = fresh.length === 1 ? `add ${bareName(fresh[0]!.file)}`.slice(0, 200) : `add ${fresh.length} clips`;
  return { edit: { kind: 'together', label, edits }, added: fresh.length, repeated };
}

/** Names of voices that clips would found, without the count of the attempt: whichever share the rest are takes of one voice. */
function newVoiceNames(clips: readonly NewClip[], voices: ReadonlyMap<string, string>): (string | undefined)[] {
  const names = clips.map((clip) => voiceNameOf(clip.file));
  return names.map((name) => (voices.has(voiceKeyOf(name)) ? undefined : withoutAttempt(name)));
}

function newTake(id: string, voiceId: string, clip: NewClip, keptPath: (file: string) => string): Take {
  const { file, sizeBytes, fingerprint } = clip;
  return {
    id,
    name: bareName(file).slice(0, 200),
    voiceId,
    clip: { path: keptPath(file), sizeBytes, fingerprint },
    silence: null,
    clean: { on: true, character: 'even', rule: 'lsa', fine: null },
    placement: null,
    mark: 'none',
    remark: '',
    part: null,
    mend: null,
  };
}

function repeatFault(file: string, name: string): PartsongError {
  return new PartsongError(
    'clip-known',
    `${basename(file)} is in the session already, as “${name}”.`,
    'Nothing needs to be done; a clip is used once.',
    file,
  );
}
