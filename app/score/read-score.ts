import { readFile, stat } from 'node:fs/promises';
import { basename, extname, posix } from 'node:path';
import { unzipSync } from 'fflate';
import { readMidi } from '../../core/guide/read-midi.ts';
import { readMusicXml } from '../../core/guide/read-musicxml.ts';
import type { Score } from '../../core/guide/score.ts';
import { child } from '../../core/guide/xml-element.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import { readMidiSyntax } from './midi-syntax.ts';
import { readXml, unreadable } from './xml-syntax.ts';

const LARGEST_FILE_BYTES = 60_000_000;

/**
 * Reads a score: Standard MIDI File (.mid, .midi), MusicXML (.musicxml, .xml) or compressed MusicXML (.mxl); what it is
 * gets told by its first bytes. Throws PartsongError 'file-missing' | 'score-unreadable'.
 */
export async function readScore(file: string): Promise<Score> {
  const bytes = await bytesOf(file);
  const name = basename(file);
  const title = name.slice(0, name.length - extname(name).length);
  const head = String.fromCharCode(...bytes.subarray(0, 4));
  if (head === 'MThd') return refusingNonsense(file, () => readMidi(readMidiSyntax(bytes, file), title));
  const text = head.startsWith('PK') ? packedText(bytes, file) : textOf(bytes);
  if (!/^\uFEFF?\s*</.test(text)) throw unreadable(file, 'it is neither MIDI nor MusicXML');
  const root = readXml(text, file);
  return refusingNonsense(file, () => readMusicXml(root, title));
}

async function bytesOf(file: string): Promise<Uint8Array> {
  try {
    const facts = await stat(file);
    if (facts.isDirectory()) throw unreadable(file, 'it is a folder');
    if (facts.size > LARGEST_FILE_BYTES) throw unreadable(file, `it is larger than ${LARGEST_FILE_BYTES / 1e6} MB`);
    return await readFile(file);
  } catch (cause) {
    if (cause instanceof PartsongError) throw cause;
    throw new PartsongError(
      'file-missing',
      `The score ${file} is not there or may not be read.`,
      'Check its name and place.',
      file,
      { cause },
    );
  }
}

/** A musical reading that meets impossible values tells it with a RangeError; the file is to blame. */
function refusingNonsense(file: string, read: () => Score): Score {
  try {
    return read();
  } catch (cause) {
    if (cause instanceof RangeError) throw unreadable(file, cause.message, cause);
    throw cause;
  }
}

/** The score within a compressed MusicXML file: what META-INF/container.xml names first. */
function packedText(bytes: Uint8Array, file: string): string {
  const entry = (name: string): Uint8Array | undefined => {
    try {
      return unzipSync(bytes, {
        filter: (one) => one.name === name && one.originalSize <= LARGEST_FILE_BYTES,
      })[name];
    } catch (cause) {
      throw unreadable(file, 'its compressed container is damaged', cause);
    }
  };
  const container = entry('META-INF/container.xml');
  if (container === undefined) throw unreadable(file, 'it is a zip file without a score in it');
  const files = child(readXml(textOf(container), file), 'rootfiles');
  const path = files?.children.find((one) => one.name === 'rootfile')?.attributes['full-path'];
  const score = path === undefined ? undefined : entry(posix.normalize(path));
  if (score === undefined) throw unreadable(file, 'its container names a score that is not in it');
  return textOf(score);
}

function textOf(bytes: Uint8Array): string {
  const [first, second] = bytes;
  if (first === 0xfe && second === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  if (first === 0xff && second === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  const text = new TextDecoder('utf-8').decode(bytes);
  const told = /^<\?xml[^>]*encoding=["']([\w-]+)["']/i.exec(text)?.[1]?.toLowerCase();
  return told === 'iso-8859-1' || told === 'latin1' ? new TextDecoder('latin1').decode(bytes) : text;
}
