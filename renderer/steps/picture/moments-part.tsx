import { useState } from 'react';
import type { SpanView } from '../../../app/shell/contract/desk-view.ts';
import { CHANGE_SEC } from '../../../core/picture/moments.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { useBench } from '../../desk/bench-store.ts';
import { ask, edit } from '../../desk/desk-store.ts';
import { playbackFrame, seekTo } from '../../lanes/the-player.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { clock } from '../../parts/numbers.ts';
import { addedMoments, type MomentChoice, soloEdits, withMoments } from './moment-edits.ts';
import type { PictureModel, PictureTile } from './picture-model.ts';
import { StretchFields } from './stretch-fields.tsx';

/** A moment that is begun at the place where it plays is so long at first, s. */
const FIRST_SEC = 8;

const asWords = { large: 'large', away: 'not seen', box: 'elsewhere' } as const;

/** What the tile in hand does over time: when it is seen, large, or away. */
export function MomentsPart({ model }: { model: PictureModel }) {
  const { tiles, span } = model;
  const inHand = useBench((state) => state.voiceId);
  const [told, setTold] = useState('');
  const tile = tiles.find(({ voiceId }) => voiceId === inHand) ?? tiles[0];
  if (tile === undefined) return null;
  const { choice } = tile;
  const moments = choice.moments ?? [];
  const put = (next: readonly MomentChoice[], mergeKey: string | null = null): void =>
    edit({ kind: 'setTile', voiceId: choice.voiceId, tile: withMoments(choice, next) }, mergeKey);
  const here = (): SpanView => {
    const fromSec =
      Math.round(Math.max(span.fromSec, Math.min(span.toSec - 1, playbackFrame() / SESSION_RATE_HZ)) * 10) / 10;
    return { fromSec, toSec: Math.min(span.toSec, fromSec + FIRST_SEC) };
  };
  const grow = async (whose: readonly PictureTile[]): Promise<void> => {
    const answer = await ask((bridge) => bridge.calls.findSolos({}));
    if (answer == null) return;
    const made = soloEdits(
      whose.map((one) => one.choice),
      answer.solos,
    );
    if (made === null) setTold('No solo was found that is not there already: nobody sounds alone or clearly leads.');
    else edit(made);
    if (made !== null) setTold('');
  };
  return (
    <section className="picture-part" aria-labelledby="picture-moments">
      <h3 id="picture-moments">Over time: {tile.name}</h3>
      <Choice
        label="Seen"
        value={choice.span === null ? 'always' : 'for a while'}
        options={[
          { value: 'always', label: 'always' },
          { value: 'for a while', label: 'from … to' },
        ]}
        onChange={(value) =>
          edit({
            kind: 'setTile',
            voiceId: choice.voiceId,
            tile: { ...choice, span: value === 'always' ? null : { ...span } },
          })
        }
      />
      {choice.span !== null && (
        <StretchFields
          what="Seen"
          stretch={choice.span}
          highestSec={model.whole.toSec}
          onSet={(seen) =>
            edit(
              { kind: 'setTile', voiceId: choice.voiceId, tile: { ...choice, span: seen } },
              `seen:${choice.voiceId}`,
            )
          }
        />
      )}
      <ul className="picture-moments">
        {moments.map((moment, index) => (
          <li key={`${moment.as}${keyOf(index)}`}>
            <MomentFields
              moment={moment}
              highestSec={model.whole.toSec}
              onChange={(next) => put(moments.with(index, next), `moment:${choice.voiceId}:${index}`)}
              onRemove={() => put(moments.toSpliced(index, 1))}
            />
          </li>
        ))}
      </ul>
      <div className="picture-row">
        <Button small onClick={() => void grow([tile])} disabled={tiles.length < 2}>
          Large in its solos
        </Button>
        <Button small onClick={() => put(addedMoments(moments, [here()], 'large'))} disabled={tiles.length < 2}>
          Large from here
        </Button>
        <Button small onClick={() => put(addedMoments(moments, [here()], 'away'))}>
          Not seen from here
        </Button>
      </div>
      {tiles.length > 1 && (
        <div className="picture-row">
          <Button small onClick={() => void grow(tiles)}>
            Every voice large in its solos
          </Button>
        </div>
      )}
      <p className="small faint" role="status">
        {told}
      </p>
      <p className="small faint">
        While one is large, the others make room. Nothing changes more than three times a second, for the sake of eyes
        that cannot bear it.
      </p>
    </section>
  );
}

const keyOf = (index: number): string => `moment-${index}`;

function MomentFields(props: {
  readonly moment: MomentChoice;
  readonly highestSec: number;
  readonly onChange: (moment: MomentChoice) => void;
  readonly onRemove: () => void;
}) {
  const { moment, highestSec, onChange, onRemove } = props;
  const { fromSec, toSec, as, soft } = moment;
  // Where it has become so.
  const thereSec = Math.min(fromSec + (soft ? CHANGE_SEC : 0), (fromSec + toSec) / 2);
  const words = `${asWords[as]} from ${clock(fromSec)} to ${clock(toSec)}`;
  return (
    <>
      <div className="picture-row">
        <span className="picture-moment-words">{words}</span>
        <Button small onClick={() => seekTo(thereSec * SESSION_RATE_HZ)} aria-label={`Go to where it is ${words}`}>
          Go there
        </Button>
        <Button small onClick={onRemove} aria-label={`Take away: ${words}`}>
          Take away
        </Button>
      </div>
      <StretchFields
        what={as === 'large' ? 'Large' : as === 'away' ? 'Not seen' : 'Elsewhere'}
        stretch={{ fromSec, toSec }}
        highestSec={highestSec}
        onSet={(stretch) => onChange({ ...moment, ...stretch })}
      />
      <label className="tick">
        <input
          type="checkbox"
          checked={soft}
          onChange={(event) => onChange({ ...moment, soft: event.target.checked })}
        />
        <span>softly</span>
      </label>
    </>
  );
}
