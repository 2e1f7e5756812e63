import type { CleanFacts } from '../../../app/shell/contract/desk-view.ts';
import { Explain } from '../../parts/explain.tsx';
import { MoodMark } from './mood-mark.tsx';
import { verdictsOf } from './verdicts.ts';
import './clean-figures.css';

/** What cleaning did, in numbers with what they mean. */
export function CleanFigures({ clean }: { readonly clean: CleanFacts }) {
  const verdicts = verdictsOf(clean);
  if (verdicts.length === 0) return null;
  return (
    <dl className="clean-figures" aria-label="What cleaning did">
      {verdicts.map((one) => (
        <div key={one.word}>
          <dt>
            <Explain word={one.word} />
          </dt>
          <dd className="clean-figures-value">
            {one.value} <span>{one.unit}</span>
          </dd>
          <dd className="clean-figures-verdict">
            <MoodMark mood={one.mood} /> {one.verdict}
          </dd>
        </div>
      ))}
    </dl>
  );
}
