import { readScore } from '../../score/read-score.ts';
import type { ScoreView } from '../../shell/contract/guide-view.ts';

/** Reads a score and leaves its notes out, which the page does not need. Throws PartsongError as `readScore` does. */
export async function scoreView(file: string): Promise<ScoreView> {
  const { parts, ...score } = await readScore(file);
  return {
    file,
    score: {
      ...score,
      parts: parts.map(({ name, sound, notes }) => {
        let lowestKey = Number.POSITIVE_INFINITY;
        let highestKey = Number.NEGATIVE_INFINITY;
        for (const { key } of notes) {
          lowestKey = Math.min(lowestKey, key);
          highestKey = Math.max(highestKey, key);
        }
        const isEmpty = notes.length === 0;
        return {
          name,
          sound,
          noteCount: notes.length,
          lowestKey: isEmpty ? null : lowestKey,
          highestKey: isEmpty ? null : highestKey,
        };
      }),
    },
  };
}
