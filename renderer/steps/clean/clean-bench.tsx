import { useState } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { useTakeFacts } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Note } from '../../parts/note.tsx';
import { thePlayer } from '../../playback/the-player.ts';
import { useTakeAtHand } from '../drawing/take-at-hand.ts';
import { sessionSecAt } from '../drawing/take-time.ts';
import { CleanFigures } from './clean-figures.tsx';
import { CleanSettings } from './clean-settings.tsx';
import { Listening } from './listening.tsx';
import { NoisePicture } from './noise-picture.tsx';
import { SilencePart } from './silence-part.tsx';
import { SpectrogramPair } from './spectrogram-picture.tsx';
import { type Shown, stretchShown } from './stretch-shown.ts';
import { TakeRail } from './take-rail.tsx';
import './clean-bench.css';

/** What is learnt of the room and taken out of each take. */
export function CleanBench() {
  const atHand = useTakeAtHand();
  if (atHand === undefined) {
    return <p className="bench clean-bench-empty">There is no take to clean yet. Add clips in the step Takes.</p>;
  }
  return (
    <div className="bench clean-bench">
      <div className="clean-bench-parts">
        <TakeRail takeId={atHand.take.id} />
        <TakeCleaning take={atHand.take} />
        <CleanSettings take={atHand.take} />
      </div>
    </div>
  );
}

function TakeCleaning({ take }: { readonly take: Take }) {
  const facts = useTakeFacts(take.id);
  if (facts === undefined || facts.state === 'waiting' || facts.state === 'reading') {
    return <p className="faint">This take is still being read.</p>;
  }
  if (facts.fault !== null) {
    return (
      <Note kind="wrong" title={facts.fault.message}>
        {facts.fault.nextStep}
      </Note>
    );
  }
  return (
    <div className="clean-bench-take">
      <div className="clean-bench-head">
        <h3>{take.name}</h3>
        <Listening facts={facts} />
      </div>
      <Remarks facts={facts} />
      <div className="clean-bench-learnt">
        <SilencePart take={take} facts={facts} />
        <NoisePicture clean={facts.clean} />
      </div>
      <CleanFigures clean={facts.clean} />
      <Spectrograms take={take} facts={facts} />
    </div>
  );
}

function Remarks({ facts }: { readonly facts: TakeFacts }) {
  const { clean } = facts;
  return (
    <>
      {clean.state === 'working' || clean.state === 'waiting' ? (
        <p role="status" className="faint">
          {clean.state === 'working' ? 'Being cleaned anew; until then you hear it as it was.' : 'Waits to be cleaned.'}
        </p>
      ) : null}
      {clean.notes.map((note) => (
        <Note key={note} kind={note.startsWith('Look here') ? 'look' : 'plain'}>
          {note.replace(/^Look here: (.)/, (_, first: string) => first.toUpperCase())}
        </Note>
      ))}
    </>
  );
}

function Spectrograms({ take, facts }: { readonly take: Take; readonly facts: TakeFacts }) {
  const [wanted, setWanted] = useState<Shown>('notes');
  const stretch = useBench((state) => state.stretch);
  const selected = stretch !== null && (stretch.takeId === null || stretch.takeId === take.id) ? stretch : null;
  const { shown, span } = stretchShown(wanted, facts, take.placement, selected);
  return (
    <section className="clean-bench-spectrograms" aria-labelledby="clean-bench-spectrograms-title">
      <div className="clean-bench-head">
        <h3 id="clean-bench-spectrograms-title">
          <Explain word="spectrogram">Sound over time</Explain>
        </h3>
        <Button
          small
          onClick={() => {
            thePlayer().seek(Math.round(Math.max(0, sessionSecAt(span.fromSec, take.placement)) * 48000));
            void thePlayer().play();
          }}
        >
          Play from here
        </Button>
        <Choice<Shown>
          label="What is shown"
          hideLabel
          value={shown}
          onChange={setWanted}
          options={[
            { value: 'notes', label: 'first notes' },
            { value: 'silence', label: 'silence' },
            { value: 'selected', label: 'selected stretch', disabled: selected === null },
          ]}
        />
      </div>
      <SpectrogramPair facts={facts} span={span} />
    </section>
  );
}
