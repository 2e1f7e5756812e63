import { useEffect, useRef } from 'react';
import type { MadePictureView } from '../../../app/shell/contract/picture-view.ts';
import { ask, theBridge } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { clock, figure } from '../../parts/numbers.ts';
import { thePlayer, usePlayback } from '../../playback/player.ts';
import { sizeWords } from '../render/render-plan.ts';
import { madeSentence } from './picture-words.ts';

const whatWords = { video: 'The video', cover: 'Still for the cover' } as const;

/** The newest video: where it is, how it looks and sounds, what was measured. */
export function MadePicture({ made }: { made: MadePictureView }) {
  const video = made.files.find(({ what }) => what === 'video');
  const plays = video?.path.endsWith('.mp4') === true;
  return (
    <section className="picture-made" aria-labelledby="picture-made">
      <h3 id="picture-made">{made.current ? 'Your video is ready' : 'Your last video'}</h3>
      {!made.current && (
        <Note kind="look" title="It is out of date.">
          This video is from before your last changes, or made by an older Partsong.
        </Note>
      )}
      <div className="picture-made-columns">
        {video !== undefined && plays && <Watch path={video.path} sizeBytes={video.sizeBytes} />}
        <div className="picture-made-facts">
          <p>{madeSentence(made)}</p>
          <ul>
            {made.files.map(({ path, what, sizeBytes }) => (
              <li key={path} className="picture-file">
                <span className="faint small">{whatWords[what]}</span>
                <span className="path">{nameOf(path)}</span>
                <span className="faint small nowrap">{sizeWords(sizeBytes)}</span>
                {theBridge().door === 'window' ? (
                  <Button
                    small
                    aria-label={`Show ${nameOf(path)} in its folder`}
                    onClick={() => void ask((bridge) => bridge.calls.reveal({ path }))}
                  >
                    Show
                  </Button>
                ) : (
                  <a className="button button-plain button-small" href={mediaOf(path)} download={nameOf(path)}>
                    Download<span className="unseen"> {nameOf(path)}</span>
                  </a>
                )}
              </li>
            ))}
          </ul>
          <p className="small faint path">
            {made.folder}, {clock(made.lengthSec)} long, made in {figure(made.tookSec, 0)} s
          </p>
          {made.notes.map((note) => (
            <p key={note} className="small faint">
              {note}
            </p>
          ))}
        </div>
      </div>
    </section>
  );
}

/** sizeBytes: a video that was made anew under the same name is another one. */
function Watch({ path, sizeBytes }: { path: string; sizeBytes: number }) {
  const player = useRef<HTMLVideoElement>(null);
  const volumeDb = usePlayback((state) => state.volumeDb);
  useEffect(() => {
    if (player.current !== null) player.current.volume = 10 ** (volumeDb / 20);
  }, [volumeDb]);
  return (
    <div className="picture-watch">
      {/* biome-ignore lint/a11y/useMediaCaption: it is music */}
      <video
        ref={player}
        key={sizeBytes}
        controls
        playsInline
        preload="metadata"
        src={mediaOf(path)}
        aria-label="The video as it was rendered"
        onPlay={() => thePlayer().pause()}
      />
      <p className="small faint">It starts at the level of the headphones below.</p>
    </div>
  );
}

function nameOf(path: string): string {
  return path.split(/[/\\]/).at(-1) ?? path;
}

function mediaOf(path: string): string {
  return theBridge().mediaUrl(`picture/${encodeURIComponent(nameOf(path))}`);
}
