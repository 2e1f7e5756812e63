import { useMemo } from 'react';
import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import { FARTHEST_MOVE_CENTS, FARTHEST_NUDGE_MS, planNudges } from '../../../core/pitch/mend.ts';
import { mendForOffset, mendForSink, nudgesFor } from '../../../core/pitch/mend-wishes.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Mend } from '../../../core/session/schema.ts';
import { edit, useTakeFacts, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Note } from '../../parts/note.tsx';
import { change } from '../../parts/numbers.ts';
import { Slider } from '../../parts/slider.tsx';
import { voiceColour } from '../../parts/voice-colours.ts';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { type TakeOfVoice, useTakeAtHand } from '../drawing/take-at-hand.ts';
import { timeSpan } from './cents-layout.ts';
import { centsWords } from './intonation-words.ts';
import {
  DIFFERENT_CENTS,
  type MendedNote,
  type MendPlace,
  mendedOffs,
  mendPlaceOf,
  middleOf,
  notesOfTake,
  withMend,
} from './mend-edits.ts';
import { MendListening } from './mend-listening.tsx';
import { MendPicture } from './mend-picture.tsx';
import { TakeChoice, Unmeasured } from './mend-take.tsx';
import { NudgesPart } from './nudges-part.tsx';
import './mend-part.css';

interface MendPartProps {
  readonly report: PitchReportView;
  readonly plan: KeptPlan | null;
}

/** What a take's pitch and time may be helped with, by choice. */
export function MendPart({ report, plan }: MendPartProps) {
  const atHand = useTakeAtHand();
  if (atHand === undefined) return null;
  return (
    <section className="intonation-part mend" aria-labelledby="mend-title">
      <div className="mend-head">
        <h3 id="mend-title">
          <Explain word="mending">Mend</Explain>
        </h3>
        <TakeChoice atHand={atHand} />
        <MendListening take={atHand.take} />
      </div>
      <MendOf key={atHand.take.id} atHand={atHand} report={report} plan={plan} />
    </section>
  );
}

interface MendOfProps extends MendPartProps {
  readonly atHand: TakeOfVoice;
}

function MendOf({ atHand: { take, voice }, report, plan }: MendOfProps) {
  const { session } = useView();
  const facts = useTakeFacts(take.id);
  const then = report.mends?.[take.id] ?? null;
  const place = mendPlaceOf(take);
  const { clock } = place;
  const own = useMemo(() => {
    const all = report.intonation?.voices.find(({ id }) => id === voice.id)?.notes ?? [];
    return notesOfTake(session, voice, take, all);
  }, [report, session, voice, take]);
  const timed = useMemo(() => {
    const all = report.timing?.voices.find(({ id }) => id === voice.id)?.notes ?? [];
    const [from, to] = [own[0]?.fromSec ?? 0, own.at(-1)?.toSec ?? 0];
    return all.filter(({ sec }) => sec >= from - 0.5 && sec <= to);
  }, [report, voice, own]);
  // Proposals rest on what was measured, so on what was mended then.
  const proposed = useMemo(() => {
    const measured = { clock, mend: then };
    return {
      cents: mendForOffset(own, measured),
      curve: [...mendForSink(own, measured)],
      nudges: nudgesFor(timed, measured),
    };
  }, [own, timed, clock, then]);
  const notes = mendedOffs(own, place, then);
  const set = (mend: Mend | null, key: string | null = null): void =>
    edit({ kind: 'setMend', takeId: take.id, mend }, key);
  return (
    <>
      <p className="small faint">
        Nothing is mended by itself, and no clip is ever changed: what you choose here is made anew from it and can be
        undone at any time. Mending helps a good take; a take that is far off is better played again.
      </p>
      {own.length === 0 && <Unmeasured take={take} voice={voice} />}
      <div className="mend-columns">
        <WholePart place={place} notes={notes} proposed={proposed.cents} onSet={set} />
        <SinkPart
          name={voice.name}
          colour={voiceColour(voice.colour)}
          place={place}
          notes={notes}
          proposed={proposed.curve}
          plan={plan}
          onSet={set}
        />
        <NudgesPart
          take={take}
          place={place}
          lengthSec={facts?.lengthSec ?? 0}
          proposed={proposed.nudges}
          plan={plan}
          onSet={set}
        />
      </div>
      <Made take={take} place={place} />
      {take.mend !== null && (
        <Button kind="removes" onClick={() => set(null)}>
          Leave it as it was played
        </Button>
      )}
    </>
  );
}

interface SettingProps {
  readonly place: MendPlace;
  readonly notes: readonly MendedNote[];
  readonly onSet: (mend: Mend | null, key?: string | null) => void;
}

function WholePart({ place, notes, proposed, onSet }: SettingProps & { readonly proposed: number }) {
  const { mend } = place;
  const cents = mend?.cents ?? 0;
  const [played, now] = [middleOf(notes, 'playedCents'), middleOf(notes, 'offCents')];
  return (
    <section aria-label="The whole take">
      <h4>The whole take</h4>
      <GestureGroup>
        {(key) => (
          <Slider
            label="Higher or lower"
            value={cents}
            min={-FARTHEST_MOVE_CENTS}
            max={FARTHEST_MOVE_CENTS}
            step={1}
            digits={0}
            unit="cents"
            onChange={(wanted) => onSet(withMend(mend, { cents: Math.round(wanted) }), key('mend-cents'))}
          />
        )}
      </GestureGroup>
      {played !== null && now !== null && (
        <p role="status">
          Its middle: {centsWords(played)} as played
          {mend === null ? '.' : <strong>, {centsWords(now)} as it is mended.</strong>}
        </p>
      )}
      {notes.length > 0 && proposed === cents && (
        <p className="small faint">By what was measured there is nothing to better here.</p>
      )}
      {proposed !== cents && (
        <p>
          Proposed: {change(proposed, 0)} cents.{' '}
          <Button small onClick={() => onSet(withMend(mend, { cents: proposed }))}>
            Take it over
          </Button>
        </p>
      )}
      {Math.abs(cents) > DIFFERENT_CENTS ? (
        <Note kind="look">
          A voice moved by more than {DIFFERENT_CENTS} cents begins to sound different. Listen before and after.
        </Note>
      ) : (
        <p className="small faint">
          Up to {FARTHEST_MOVE_CENTS} cents either way; a voice moved by more than {DIFFERENT_CENTS} begins to sound
          different.
        </p>
      )}
    </section>
  );
}

interface SinkPartProps extends SettingProps {
  readonly name: string;
  readonly colour: string;
  readonly proposed: Mend['curve'];
  readonly plan: KeptPlan | null;
}

function SinkPart({ name, colour, place, notes, proposed, plan, onSet }: SinkPartProps) {
  const { mend } = place;
  const chosen = mend?.curve ?? [];
  const isTaken = JSON.stringify(chosen) === JSON.stringify(proposed);
  return (
    <section aria-label="Against a pitch that sinks or rises" className="mend-sink">
      <h4>Against a pitch that sinks or rises</h4>
      {notes.length > 0 && (
        <MendPicture
          name={name}
          colour={colour}
          notes={notes}
          place={place}
          proposed={isTaken ? [] : proposed}
          chosen={chosen}
          span={timeSpan([{ notes }])}
          plan={plan}
        />
      )}
      {notes.length === 0 && <p className="small faint">Nothing is known of it.</p>}
      {notes.length > 0 && proposed.length === 0 && chosen.length === 0 && (
        <p className="small faint">It neither sinks nor rises in a way that can be told for sure.</p>
      )}
      {proposed.length > 0 && !isTaken && (
        <p>
          Proposed: a slow curve of {curveWords(proposed)}, the dashed line.{' '}
          <Button small onClick={() => onSet(withMend(mend, { curve: [...proposed] }))}>
            {chosen.length === 0 ? 'Take it over' : 'Take it instead'}
          </Button>
        </p>
      )}
      {chosen.length > 0 && (
        <p>
          In force: a slow curve of {curveWords(chosen)}, the solid line.{' '}
          <Button small kind="removes" onClick={() => onSet(withMend(mend, { curve: [] }))}>
            Remove it
          </Button>
        </p>
      )}
    </section>
  );
}

/** "up to +14 cents", "−3 to +8 cents". */
function curveWords(curve: Mend['curve']): string {
  const sizes = curve.map(({ cents }) => cents);
  const [least, most] = [Math.min(0, ...sizes), Math.max(0, ...sizes)];
  if (least === 0) return `up to ${change(Math.round(most), 0)} cents`;
  if (most === 0) return `down to ${change(Math.round(least), 0)} cents`;
  return `${change(Math.round(least), 0)} to ${change(Math.round(most), 0)} cents`;
}

/** How the mending came out. */
function Made({ take, place }: { readonly take: TakeOfVoice['take']; readonly place: MendPlace }) {
  const facts = useTakeFacts(take.id);
  const { mend } = place;
  const held = mend === null ? [] : planNudges(mend).held;
  // The notes of the finished work tell of what was held back, too.
  const notes = facts?.mended === 'ready' ? facts.mendNotes : held.map(({ sentence }) => sentence);
  const isBusy = facts?.mended === 'busy';
  return (
    <div role="status" className="mend-made">
      {isBusy && <p className="faint">Being mended; it is heard mended in a moment.</p>}
      {notes.length > 0 && (
        <ul className="intonation-says">
          {notes.map((note) => (
            <li key={note}>{note}</li>
          ))}
        </ul>
      )}
      {mend !== null && mend.nudges.length > 0 && (
        <p className="small faint">
          A stretch moves by up to {FARTHEST_NUDGE_MS} ms; the sound around it is drawn out or together by 4 %, where
          there is little room by 8 %.
        </p>
      )}
    </div>
  );
}
