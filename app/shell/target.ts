/** What a request asks for: '/media/wave/take-1/before/0?x=y'. */
export interface Target {
  /** Path segments as sent, percent-encoded; '/' alone has none. */
  readonly segments: readonly string[];
  /** After the '?', without it; '' when there is none. */
  readonly query: string;
}

const LONGEST_TARGET = 8192;

/**
 * Reads a request's target strictly: it begins with one slash, and no segment is empty, '.' or '..', or holds a slash, a
 * backslash or a control character once decoded. Undefined when it is not so.
 */
export function parseTarget(target: string): Target | undefined {
  if (target.length > LONGEST_TARGET || !/^\/[\x21-\x7e]*$/.test(target) || target.includes('#')) return undefined;
  const mark = target.indexOf('?');
  const path = mark < 0 ? target : target.slice(0, mark);
  const query = mark < 0 ? '' : target.slice(mark + 1);
  if (path === '/') return { segments: [], query };
  const segments = path.slice(1).split('/');
  return segments.every(isPlain) ? { segments, query } : undefined;
}

function isPlain(segment: string): boolean {
  const decoded = decodedOf(segment);
  if (decoded === undefined || decoded === '' || decoded === '.' || decoded === '..') return false;
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for.
  return !/[/\\\u0000-\u001f\u007f]/.test(decoded);
}

function decodedOf(segment: string): string | undefined {
  try {
    return decodeURIComponent(segment);
  } catch {
    return undefined;
  }
}
