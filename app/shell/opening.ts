import { statSync } from 'node:fs';
import { basename, dirname, resolve } from 'node:path';

/**
 * The session that an argument of the command line or the system's file manager names: its folder, or the session.json in
 * it. Undefined when it is neither.
 */
export function sessionFolderOf(argument: string, workingFolder: string): string | undefined {
  const path = resolve(workingFolder, argument);
  const facts = statSync(path, { throwIfNoEntry: false });
  if (facts?.isDirectory()) return path;
  return facts?.isFile() && basename(path) === 'session.json' ? dirname(path) : undefined;
}

/** The session among a program's arguments, without the program and its options; undefined when there is none. */
export function sessionAmong(args: readonly string[], workingFolder: string): string | undefined {
  const plain = args.filter((argument) => !argument.startsWith('-') && !/\.[cm]?js$/.test(argument));
  for (const argument of plain) {
    const folder = sessionFolderOf(argument, workingFolder);
    if (folder !== undefined) return folder;
  }
  return undefined;
}
