import type { Word } from '../help/words.ts';
import { Explain } from './explain.tsx';
import { change, figure } from './numbers.ts';
import './figure.css';

export interface FigureProps {
  readonly value: number | null | undefined;
  /** Written after the number; 'LUFS', 'dB', 's'. */
  readonly unit: string;
  readonly digits?: number;
  /** The word that explains it. */
  readonly word?: Word;
  /** Shows a plus sign: the number is a change. */
  readonly isChange?: boolean;
}

/** A number with its unit; the unit explains itself when a word is given. */
export function Figure({ value, unit, digits = 1, word, isChange = false }: FigureProps) {
  const isThere = value !== null && value !== undefined && Number.isFinite(value);
  const text = isThere && isChange ? change(value, digits) : figure(value, digits);
  return (
    <span className="figure">
      <span className="figure-number">{text}</span>{' '}
      <span className="figure-unit">{word === undefined ? unit : <Explain word={word}>{unit}</Explain>}</span>
    </span>
  );
}
