import type { FaultView } from '../../app/shell/contract/desk-view.ts';

/** A fault's sentence with the clip called by its name alone, and where the clip lies, to stand below; null where there is no more to say. */
export function faultWords({ message, file }: Pick<FaultView, 'message' | 'file'>): {
  readonly title: string;
  readonly path: string | null;
} {
  if (file === null) return { title: message, path: null };
  const name = file.split(/[/\\]/).findLast((part) => part !== '') ?? file;
  if (!message.includes(file)) return { title: message, path: file };
  return { title: message.replace(file, () => name), path: name === file ? null : file };
}
