import { TILING_KINDS, type TilingKind, tile } from '../../../core/picture/tiling.ts';
import { useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { figure } from '../../parts/numbers.ts';
import { layAnew, setParts } from './picture-edits.ts';
import { type PictureModel, tileAspects } from './picture-model.ts';
import { ColourFields, SpacingSliders } from './tile-surround.tsx';

const kindWords: Readonly<Record<TilingKind, string>> = {
  rows: 'Rows',
  lead: 'One leads',
  ranks: 'Ranks',
  strip: 'Strip',
};

/** How the tiles lie, and how good that is. */
export function TilingPart({ model }: { model: PictureModel }) {
  const { picture, plan, isByHand } = model;
  const { tiling } = picture;
  return (
    <section className="picture-part" aria-labelledby="picture-tiling">
      <h3 id="picture-tiling">
        <Explain word="tiling">Tiling</Explain>
      </h3>
      <Choice
        layout="list"
        label="How the tiles lie"
        hideLabel
        value={tiling.kind}
        options={TILING_KINDS.map((kind) => ({ value: kind, label: kindWords[kind], hint: costWords(model, kind) }))}
        onChange={(kind) => setParts({ tiling: { ...tiling, kind } })}
      />
      {tiling.kind === 'lead' && <LeadField model={model} />}
      {plan !== null && (
        <p className="small">
          <Explain word="waste">Left empty</Explain> {figure(100 * plan.quality.waste, 0)} %,{' '}
          <Explain word="cropped">cut off</Explain> {figure(100 * plan.quality.crop, 0)} % of the clips.
        </p>
      )}
      {isByHand && (
        <div className="picture-row">
          <span className="small faint">Some tiles were put by hand.</span>
          <Button small onClick={() => layAnew(picture)}>
            Leave all to the tiling
          </Button>
        </div>
      )}
      <SpacingSliders picture={picture} />
      <ColourFields picture={picture} />
    </section>
  );
}

function LeadField({ model }: { model: PictureModel }) {
  const { voices } = useView().session;
  return (
    <Field label="In the large tile">
      {(ids) => (
        <select {...ids} value={model.leadId ?? ''} onChange={(event) => setParts({ leadVoiceId: event.target.value })}>
          {voices.map(({ id, name }) => (
            <option key={id} value={id}>
              {name}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}

/** What a tiling of a kind would leave empty and cut off. */
function costWords(model: PictureModel, kind: TilingKind): string {
  const { picture, tiles, leadId } = model;
  if (tiles.length === 0) return '';
  const aspects = tileAspects(tiles);
  const lead = tiles.findIndex(({ voiceId }) => voiceId === leadId);
  try {
    const { quality } = tile(picture.canvas, aspects, { ...picture.tiling, kind, leadIndex: Math.max(0, lead) });
    return `${figure(100 * quality.waste, 0)} % empty, ${figure(100 * quality.crop, 0)} % cut`;
  } catch {
    return 'too many voices';
  }
}
