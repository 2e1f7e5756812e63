import type { EditList, ListedClip } from './edit-list.ts';
import { perSecond } from './picture-rate.ts';
import { dropTimeCode, timeCode } from './time-code.ts';

/** A list as it was made for machines: CMX3600 counts no more events. */
const MOST_EVENTS = 999;
const LONGEST_REEL = 8;
/** A list of one picture track begins at one hour, as tapes did. */
const FIRST_HOUR_SEC = 3600;

/** A list's text, and what it could not hold, sentences. */
export interface WrittenList {
  readonly text: string;
  readonly notes: readonly string[];
}

/**
 * An edit list in the form CMX3600. It knows one picture track, so that voices, which sound together, follow one another:
 * each is laid at its own time as an event of its own, in the order of the voices, and the record times overlap; programs
 * that read it put them on tracks. Source: CMX3600 as published by its readers: events of number, reel, channel,
 * transition, source in and out, record in and out; out is exclusive. Times are whole pictures.
 */
export function edlText(list: EditList): WrittenList {
  const isDrop = list.rate.under === 1001 && Math.round(perSecond(list.rate)) % 30 === 0;
  const code = (picture: number): string => (isDrop ? dropTimeCode(picture, list.rate) : timeCode(picture, list.rate));
  const events = list.tracks.flatMap((track) =>
    track.clips.map((clip) => ({ clip, channel: track.kind === 'Video' ? 'V' : 'A' })),
  );
  const kept = events.slice(0, MOST_EVENTS);
  const reels = reelsOf(kept.map(({ clip }) => clip));
  const lines = [`TITLE: ${asciiOf(list.name).slice(0, 70)}`, `FCM: ${isDrop ? '' : 'NON-'}DROP FRAME`, ''];
  const notes: string[] = [];
  for (const [index, { clip, channel }] of kept.entries()) {
    const first = pictureAt(FIRST_HOUR_SEC + clip.atSec, list);
    const length = Math.max(1, pictureAt(FIRST_HOUR_SEC + clip.atSec + clip.lengthSec, list) - first);
    const from = pictureAt(Math.max(0, clip.fromSec), list);
    const times = [from, from + length, first, first + length].map(code).join(' ');
    const number = String(index + 1).padStart(3, '0');
    lines.push(`${number}  ${reels[index]!.padEnd(LONGEST_REEL)} ${channel.padEnd(5)} C        ${times}`);
    lines.push(`* FROM CLIP NAME: ${clip.path.split('/').at(-1)!}`, `* SOURCE FILE: ${clip.path}`);
    const slideMs = Math.abs(clip.driftPpm) * 1e-3 * clip.lengthSec;
    if (slideMs > 500 / perSecond(list.rate)) {
      notes.push(
        `${clip.name} slides by ${slideMs.toFixed(0)} ms from beginning to end, since its clock is off; an EDL cannot say so (OTIO can).`,
      );
    }
  }
  if (events.length > MOST_EVENTS)
    notes.push(`An EDL holds ${MOST_EVENTS} events; ${events.length - MOST_EVENTS} were left out.`);
  notes.push('An EDL counts in whole pictures: clips lie up to half a picture from their exact places.');
  return { text: `${lines.join('\r\n')}\r\n`, notes };
}

function pictureAt(sec: number, { rate }: EditList): number {
  return Math.round(sec * perSecond(rate));
}

/** Names of reels: eight capitals and digits, different for different files. */
function reelsOf(clips: readonly ListedClip[]): string[] {
  const byPath = new Map<string, string>();
  for (const { path } of clips) {
    if (byPath.has(path)) continue;
    const bare = path
      .split('/')
      .at(-1)!
      .replace(/\.[^.]*$/, '');
    const plain =
      asciiOf(bare)
        .toUpperCase()
        .replace(/[^A-Z0-9]/g, '')
        .slice(0, LONGEST_REEL) || 'CLIP';
    const taken = new Set(byPath.values());
    let reel = plain;
    for (let n = 2; taken.has(reel); n++) reel = `${plain.slice(0, LONGEST_REEL - String(n).length)}${n}`;
    byPath.set(path, reel);
  }
  return clips.map(({ path }) => byPath.get(path)!);
}

function asciiOf(text: string): string {
  return text.normalize('NFKD').replace(/[^\x20-\x7e]/g, '');
}
