import { SaxesParser } from 'saxes';
import type { XmlElement } from '../../core/guide/xml-element.ts';
import { PartsongError } from '../../core/signal/fault.ts';

/** A full orchestral movement has some 40 MB and a million elements, nested less than 20 deep. */
const LARGEST_BYTES = 60_000_000;
const MOST_ELEMENTS = 3_000_000;
const DEEPEST = 100;

interface Growing {
  name: string;
  attributes: Record<string, string>;
  children: Growing[];
  text: string;
}

/**
 * Reads an XML document into a tree. Entities are never defined nor fetched: a document that uses others than XML's own five
 * is refused, and so are documents that are too large or nested too deep. Throws PartsongError 'score-unreadable'.
 */
export function readXml(text: string, file: string): XmlElement {
  if (text.length > LARGEST_BYTES) throw unreadable(file, `it is larger than ${LARGEST_BYTES / 1e6} MB`);
  const parser = new SaxesParser();
  const open: Growing[] = [];
  let root: Growing | undefined;
  let count = 0;
  parser.on('error', (error) => {
    throw unreadable(file, `it is not valid XML (${error.message})`);
  });
  parser.on('opentag', (tag) => {
    if (++count > MOST_ELEMENTS) throw unreadable(file, `it has more than ${MOST_ELEMENTS} elements`);
    if (open.length >= DEEPEST) throw unreadable(file, `its elements are nested more than ${DEEPEST} deep`);
    const element: Growing = { name: tag.name, attributes: { ...tag.attributes }, children: [], text: '' };
    open.at(-1)?.children.push(element);
    root ??= element;
    open.push(element);
  });
  const addText = (piece: string): void => {
    const element = open.at(-1);
    if (element !== undefined) element.text += piece;
  };
  parser.on('text', addText);
  parser.on('cdata', addText);
  parser.on('closetag', () => {
    const element = open.pop();
    if (element !== undefined) element.text = element.text.trim();
  });
  parser.write(text).close();
  if (root === undefined) throw unreadable(file, 'it is empty');
  return root;
}

export function unreadable(file: string, why: string, cause?: unknown): PartsongError {
  return new PartsongError(
    'score-unreadable',
    `The score ${file} cannot be read: ${why}.`,
    'Export it again as MusicXML or as a Standard MIDI File.',
    file,
    { cause },
  );
}
