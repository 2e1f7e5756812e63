import { isCatchAll, plainTitle, titleInCommon, titleOfFolder } from './clip-title.ts';

/** The part of the file system entries of a drop that is used here. */
export interface DroppedEntry {
  readonly isFile: boolean;
  readonly isDirectory: boolean;
  readonly name: string;
}

interface FileEntry extends DroppedEntry {
  file(found: (file: File) => void, failed: (error: unknown) => void): void;
}

interface FolderEntry extends DroppedEntry {
  createReader(): { readEntries(found: (entries: DroppedEntry[]) => void, failed: (error: unknown) => void): void };
}

const MOST_FILES = 500;

/** Whether a name looks like a clip; other files of a folder are passed over. */
export function isClipName(name: string): boolean {
  return (
    !name.startsWith('.') &&
    /\.(wav|wave|flac|aif|aiff|caf|m4a|mp4|mov|m4v|3gp|mkv|webm|ogg|oga|opus|mp3|aac|amr|wma|avi|mts|bwf|rf64)$/i.test(
      name,
    )
  );
}

/**
 * The title of a session that begins with clips: the name of the folder that was brought, else what the clips' names have in
 * common, else the name of the folder they lie in, where they come by their paths; 'Untitled' where none of these says anything.
 */
export function titleFor(folderName: string | null, files: readonly string[] = []): string {
  if (folderName !== null && !isCatchAll(folderName) && plainTitle(folderName) !== '') return plainTitle(folderName);
  return titleInCommon(files) ?? titleOfFolder(files) ?? 'Untitled';
}

/**
 * All clips among dropped entries, folders searched to their ends, by name. A file that was dropped itself is taken whatever its
 * name: the desk tells what it is not.
 */
export async function filesOf(entries: readonly DroppedEntry[]): Promise<File[]> {
  const files: File[] = [];
  for (const entry of entries) await gather(entry, files, true);
  return files.slice(0, MOST_FILES);
}

async function gather(entry: DroppedEntry, files: File[], isDropped: boolean): Promise<void> {
  if (files.length >= MOST_FILES) return;
  if (entry.isFile) {
    if (!isDropped && !isClipName(entry.name)) return;
    files.push(await new Promise<File>((found, failed) => (entry as FileEntry).file(found, failed)));
    return;
  }
  if (!entry.isDirectory) return;
  const reader = (entry as FolderEntry).createReader();
  const inside: DroppedEntry[] = [];
  // A reader gives at most 100 entries a call.
  for (;;) {
    const some = await new Promise<DroppedEntry[]>((found, failed) => reader.readEntries(found, failed));
    if (some.length === 0) break;
    inside.push(...some);
  }
  inside.sort((one, other) => one.name.localeCompare(other.name, undefined, { numeric: true }));
  for (const one of inside) await gather(one, files, false);
}
