import { loudnessWords } from './loudness-words.ts';
import { noiseWords } from './noise-words.ts';
import { pictureWords } from './picture-words.ts';
import { playingWords } from './playing-words.ts';

/** A word of the trade and what it means, in one or two plain sentences. */
export interface Explanation {
  readonly name: string;
  readonly text: string;
}

/** The words that screens explain on demand, by key. */
export const words = { ...loudnessWords, ...noiseWords, ...playingWords, ...pictureWords } as const;

/** The key of a word that can be explained. */
export type Word = keyof typeof words;
