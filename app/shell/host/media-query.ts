import type { SpectrogramPlan } from '../../../core/signal/spectrogram.ts';
import type { Listen } from '../contract/desk-view.ts';

export interface StretchSource {
  readonly id: string;
  /** 'cleaned': as after cleaning, before mending. */
  readonly listen: Listen | 'cleaned';
}

export interface AskedStretch {
  /** Session frame. */
  readonly from: number;
  readonly frames: number;
  readonly sources: readonly StretchSource[];
}

const MOST_FRAMES = 480_000;
const MOST_SOURCES = 256;
const FARTHEST_FRAME = 1e10;
const MOST_COLUMNS = 4096;
const MOST_ROWS = 1024;
const LONGEST_SEC = 1e5;

/** The query of a stretch; null when it is none that is served. */
export function askedStretch(query: URLSearchParams): AskedStretch | null {
  const from = wholeNumber(query.get('from'), -FARTHEST_FRAME, FARTHEST_FRAME);
  const frames = wholeNumber(query.get('frames'), 1, MOST_FRAMES);
  const named = (query.get('sources') ?? '').split(',');
  if (from === null || frames === null || named.length > MOST_SOURCES) return null;
  const sources: StretchSource[] = [];
  for (const source of named) {
    const colon = source.lastIndexOf(':');
    const listen = source.slice(colon + 1);
    if (colon < 1 || !isListen(listen)) return null;
    sources.push({ id: source.slice(0, colon), listen });
  }
  return { from, frames, sources };
}

function isListen(text: string): text is StretchSource['listen'] {
  return text === 'before' || text === 'cleaned' || text === 'after' || text === 'takenAway';
}

/** The query of a spectrogram; null when it is none that is served. */
export function askedSpectrogram(query: URLSearchParams): SpectrogramPlan | null {
  const fromSec = number(query.get('from'));
  const toSec = number(query.get('to'));
  const columns = wholeNumber(query.get('columns'), 1, MOST_COLUMNS);
  const rows = wholeNumber(query.get('rows'), 1, MOST_ROWS);
  if (fromSec === null || toSec === null || columns === null || rows === null) return null;
  if (fromSec < -LONGEST_SEC || toSec > LONGEST_SEC || toSec <= fromSec) return null;
  return { fromSec, toSec, columns, rows };
}

function number(text: string | null): number | null {
  return text !== null && /^-?\d{1,12}(\.\d{1,18})?(e-?\d{1,3})?$/.test(text) ? Number(text) : null;
}

function wholeNumber(text: string | null, least: number, most: number): number | null {
  const value = number(text);
  return value !== null && Number.isInteger(value) && value >= least && value <= most ? value : null;
}
