import { LONGEST_FADE_SEC, LONGEST_TITLE_SEC } from '../../../core/session/picture-limits.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { useView } from '../../desk/desk-store.ts';
import { seekTo } from '../../lanes/the-player.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { clock } from '../../parts/numbers.ts';
import { TypedName } from '../../parts/typed-name.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { setParts } from './picture-edits.ts';
import type { PictureModel } from './picture-model.ts';
import { StretchFields } from './stretch-fields.tsx';

const USUAL_TITLE_SEC = 4;

/** Title, names, fades, and where the video begins and ends. */
export function TitlePart({ model }: { model: PictureModel }) {
  const { picture } = model;
  const { title, fade } = picture;
  const { session } = useView();
  return (
    <section className="picture-part" aria-labelledby="picture-title">
      <h3 id="picture-title">Names and title</h3>
      <label className="tick">
        <input
          type="checkbox"
          checked={picture.names}
          onChange={(event) => setParts({ names: event.target.checked })}
        />
        <span>Names in the tiles</span>
      </label>
      <label className="tick">
        <input
          type="checkbox"
          checked={title !== null}
          onChange={(event) => {
            const card = { text: session.title, subtitle: '', lengthSec: USUAL_TITLE_SEC };
            setParts({ title: event.target.checked ? card : null });
          }}
        />
        <span>A title card at the beginning</span>
      </label>
      {title !== null && (
        <>
          <Field label="Title">
            {() => (
              <TypedName
                label="Title"
                value={title.text}
                most={200}
                onChange={(text) => setParts({ title: { ...title, text } })}
              />
            )}
          </Field>
          <Field label="Below it">
            {() => (
              <TypedName
                label="Line below the title"
                value={title.subtitle}
                most={200}
                onChange={(subtitle) => setParts({ title: { ...title, subtitle } })}
              />
            )}
          </Field>
          <NumberField
            label="Seen for"
            unit="s"
            value={title.lengthSec}
            lowest={0.5}
            highest={LONGEST_TITLE_SEC}
            step={0.5}
            digits={1}
            onSet={(lengthSec) => setParts({ title: { ...title, lengthSec } })}
          />
        </>
      )}
      {(picture.names || title !== null) && (
        <p className="small faint">
          The dashed line is the <Explain word="safeMargin">safe margin</Explain>.
        </p>
      )}
      <div className="picture-place">
        <NumberField
          label="From black"
          unit="s"
          value={fade.inSec}
          lowest={0}
          highest={LONGEST_FADE_SEC}
          step={0.5}
          digits={1}
          onSet={(inSec) => setParts({ fade: { ...fade, inSec } })}
        />
        <NumberField
          label="To black"
          unit="s"
          value={fade.outSec}
          lowest={0}
          highest={LONGEST_FADE_SEC}
          step={0.5}
          digits={1}
          onSet={(outSec) => setParts({ fade: { ...fade, outSec } })}
        />
      </div>
      <SpanFields model={model} />
    </section>
  );
}

function SpanFields({ model }: { model: PictureModel }) {
  const { picture, span, whole } = model;
  const set = (fromSec: number, toSec: number): void => setParts({ span: { fromSec, toSec } }, 'picture:span');
  return (
    <>
      <h4 className="picture-sub">Start and end</h4>
      <StretchFields
        what="Video"
        stretch={span}
        highestSec={whole.toSec}
        onSet={({ fromSec, toSec }) => set(fromSec, toSec)}
      />
      <p className="small faint">
        {picture.span === null
          ? 'Sound and picture begin and end together, where the mix does: without silence, clap and count-in.'
          : 'Chosen by hand; sound and picture begin and end together.'}{' '}
        {clock(span.toSec - span.fromSec)} long.
      </p>
      <div className="picture-row">
        <Button small onClick={() => seekTo(span.fromSec * SESSION_RATE_HZ)}>
          Go to the start
        </Button>
        {picture.span === null ? (
          <Button small onClick={() => setParts({ span: { ...whole } })}>
            All that was recorded
          </Button>
        ) : (
          <Button small onClick={() => setParts({ span: null })}>
            As the mix
          </Button>
        )}
      </div>
    </>
  );
}
