import { ask, theBridge } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { TypedName } from '../../parts/typed-name.tsx';
import { type RenderChoices, usualFolder } from './render-plan.ts';

export interface FormChoiceProps {
  readonly choices: RenderChoices;
  readonly sessionFolder: string;
  readonly onChoose: (change: Partial<RenderChoices>) => void;
}

/** In which form the mix is written, and where. */
export function FormChoice({ choices, sessionFolder, onChoose }: FormChoiceProps) {
  const usual = usualFolder(sessionFolder);
  const pick = async (): Promise<void> => {
    const folder = await ask((bridge) => bridge.calls.pickFolder({ title: 'Where to render' }));
    if (typeof folder === 'string') onChoose({ folder });
  };
  return (
    <section className="render-part" aria-labelledby="render-form">
      <h3 id="render-form">In which form</h3>
      <Choice
        label={
          <>
            The mix as WAV, <Explain word="bits">how fine?</Explain>
          </>
        }
        value={choices.wave}
        options={[
          { value: 'pcm24', label: '24 bit' },
          { value: 'pcm16', label: '16 bit' },
          { value: 'float32', label: 'float' },
        ]}
        onChange={(wave) => onChoose({ wave })}
      />
      <Choice
        label="A copy for upload"
        value={choices.copy ?? 'none'}
        options={[
          { value: 'm4a', label: 'M4A' },
          { value: 'flac', label: 'FLAC' },
          { value: 'mp3', label: 'MP3' },
          { value: 'none', label: 'none' },
        ]}
        onChange={(copy) => onChoose({ copy: copy === 'none' ? null : copy })}
      />
      <p className="small faint">
        <Explain word="m4a" /> is small and plays nearly everywhere, <Explain word="flac" /> loses nothing,{' '}
        <Explain word="mp3" /> plays everywhere.
      </p>
      <div className="render-stems">
        <label className="tick">
          <input
            type="checkbox"
            checked={choices.stems}
            onChange={(event) => onChoose({ stems: event.target.checked })}
          />
          <span>One file for each voice too</span>
        </label>
        <span className="small">
          (<Explain word="stems">stems</Explain>)
        </span>
      </div>
      <div className="render-folder">
        <strong>Where</strong>
        {theBridge().door === 'browser' ? (
          <TypedName
            className="render-folder-path"
            label="Folder for the render"
            value={choices.folder ?? usual}
            most={4096}
            onChange={(folder) => onChoose({ folder: folder === usual ? null : folder })}
          />
        ) : (
          <span className="path small">{choices.folder ?? usual}</span>
        )}
        <span className="render-folder-buttons">
          {theBridge().door === 'window' && (
            <Button small onClick={() => void pick()}>
              Another folder …
            </Button>
          )}
          {choices.folder !== null && (
            <Button small onClick={() => onChoose({ folder: null })}>
              In the session
            </Button>
          )}
        </span>
      </div>
    </section>
  );
}
