import { useMemo } from 'react';
import { edit, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { Master } from './master.tsx';
import { Stage } from './stage.tsx';
import { VoiceRows } from './voice-rows.tsx';
import { blendedVoices, isMoved } from './voices-in-blend.ts';
import './blend-bench.css';

/** Balance of the voices, their places on the stage, and the loudness of the whole. */
export function BlendBench() {
  const { session, blend, takes } = useView();
  const voices = useMemo(() => blendedVoices(session, blend, takes), [session, blend, takes]);
  if (voices.length === 0) {
    return <p className="bench">There is no voice to blend yet. Add clips in the step Takes.</p>;
  }
  const moved = session.voices.filter(isMoved);
  const off = voices.filter((one) => one.found?.isOff === true);
  return (
    <div className="bench blend-bench">
      <div className="blend-bench-parts">
        <section className="blend-bench-stage" aria-labelledby="blend-bench-stage-title">
          <h3 id="blend-bench-stage-title">Stage</h3>
          <Stage voices={voices} />
        </section>
        <section className="blend-bench-voices" aria-labelledby="blend-bench-voices-title">
          <div className="blend-bench-head">
            <h3 id="blend-bench-voices-title">Voices</h3>
            <Button
              small
              disabled={moved.length === 0}
              onClick={() =>
                edit({
                  kind: 'together',
                  label: 'All voices back to what was found',
                  edits: moved.flatMap((voice) => [
                    { kind: 'setTrim' as const, voiceId: voice.id, trimDb: 0 },
                    { kind: 'setPlace' as const, voiceId: voice.id, placeDeg: null },
                  ]),
                })
              }
            >
              All back to what was found
            </Button>
          </div>
          {off.length === 0 ? null : (
            <Note kind="look">
              {off.map((one) => one.voice.name).join(', ')} could not be brought to the common level. Listen, and move
              by hand.
            </Note>
          )}
          <VoiceRows voices={voices} />
        </section>
        <Master />
      </div>
    </div>
  );
}
