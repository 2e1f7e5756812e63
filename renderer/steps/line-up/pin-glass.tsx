import { type KeyboardEvent, useRef, useState } from 'react';
import type { TakeFacts } from '../../../app/shell/contract/desk-view.ts';
import type { Take } from '../../../core/session/schema.ts';
import { edit, useView } from '../../desk/desk-store.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { SESSION_RATE_HZ } from '../../lanes/time-view.ts';
import { Button } from '../../parts/button.tsx';
import { Note } from '../../parts/note.tsx';
import { change, clock, figure } from '../../parts/numbers.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { evenScale, evenTicks } from '../drawing/axes.ts';
import { NumberField } from '../drawing/number-field.tsx';
import { type TakeOfVoice, takesInOrder } from '../drawing/take-at-hand.ts';
import { takeSecAt } from '../drawing/take-time.ts';
import { useWidth } from '../drawing/use-width.ts';
import { MagnifiedHalf } from './closer-wider.tsx';
import { GlassRow } from './glass-row.tsx';
import { lookAt, useGlass } from './glass-store.ts';
import { framesOfKey } from './magnified-sound.ts';
import { pinOutcome, pinToMove } from './placement-edits.ts';
import './pins.css';

/** Halves of the window to choose from, s. */
const HALVES = [0.003, 0.01, 0.025, 0.05, 0.15, 0.4];
const FIRST_HALF = 3;
const NAME_WIDTH = 128;
const LONGEST_SEC = 7200;
/** So much is heard before and after the moment, s. */
const HEARD_SEC = 1.5;

/** What a take can be held against: the guide, or another voice's take. */
interface Other {
  readonly id: string;
  readonly name: string;
  readonly facts: TakeFacts;
  readonly of: TakeOfVoice | null;
}

/** Two sounds on one time axis, magnified: the take in hand and what it is held against. Moved upon one another, they are pinned. */
export function PinGlass({ atHand }: { readonly atHand: TakeOfVoice }) {
  const { take, voice } = atHand;
  const glass = useGlass();
  const others = useOthers(take.id);
  const facts = useView().takes[take.id];
  const [chosen, setChosen] = useState<string | null>(null);
  const [zoom, setZoom] = useState(FIRST_HALF);
  const [first] = useState(() => firstMoment(take, facts, playbackFrame() / SESSION_RATE_HZ));
  const [reason, setReason] = useState<string | null>(null);
  const began = useRef(0);
  const [box, width] = useWidth<HTMLDivElement>(560);
  const inner = Math.max(120, Math.round(width - NAME_WIDTH - 8));
  const isMine = glass.takeId === take.id;
  const atSec = (isMine ? glass.atSec : null) ?? first;
  const shiftSec = isMine ? glass.shiftSec : 0;
  const halfSec = HALVES[zoom]!;
  const other = others.find((one) => one.id === chosen) ?? others[0];
  if (facts === undefined || !facts.waves.before) return null;
  const hold = (sec: number): void => {
    setReason(null);
    useGlass.setState({ takeId: take.id, atSec, shiftSec: Math.round(sec * SESSION_RATE_HZ) / SESSION_RATE_HZ });
  };
  const look = (sec: number): void => {
    setReason(null);
    useGlass.setState({ takeId: take.id, atSec: sec, shiftSec });
  };
  const takeSec = takeSecAt(atSec - shiftSec, take.placement);
  const isInside = takeSec >= 0 && takeSec <= facts.lengthSec;
  const moved = pinToMove(take.placement, takeSec);
  const pin = (): void => {
    const outcome = pinOutcome(take, atSec, shiftSec);
    if ('reason' in outcome) {
      setReason(outcome.reason);
      return;
    }
    edit(outcome.edit);
    lookAt(take.id, atSec);
    setReason(null);
  };
  const onKey = (event: KeyboardEvent): void => {
    const by = event.key === 'Escape' ? 0 : framesOfKey(event.key, event.shiftKey);
    if (by === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    hold(by === 0 ? 0 : shiftSec + by / SESSION_RATE_HZ);
  };
  const lie = { ...(take.placement ?? { driftPpm: 0, offsetSec: 0 }) };
  const x = evenScale(-halfSec * 1000, halfSec * 1000, NAME_WIDTH + 8, NAME_WIDTH + 8 + inner);
  return (
    <section className="pin-glass" ref={box} aria-labelledby="pin-glass-title">
      <GlassHead atSec={atSec} zoom={zoom} onLook={look} onZoom={setZoom} />
      <div className="pin-glass-rows">
        {other === undefined ? (
          <p className="pin-glass-none">There is no guide and no other take to hold it against.</p>
        ) : (
          <HeldAgainst
            other={other}
            others={others}
            {...{ atSec, halfSec }}
            width={inner}
            onChoose={setChosen}
            onLook={look}
          />
        )}
        <GlassRow
          source={take.id}
          name={take.name}
          lie={{ ...lie, offsetSec: lie.offsetSec + shiftSec }}
          facts={facts}
          {...{ atSec, halfSec }}
          width={inner}
          colour={voiceColour(voice.colour)}
          onDrag={(bySec, isBeginning) => {
            if (isBeginning) began.current = shiftSec;
            hold(began.current + bySec);
          }}
          onClick={(bySec) => hold(shiftSec - bySec)}
          slider={{
            label: `${take.name}, held for a pin`,
            ms: 1000 * shiftSec,
            words: shiftWords(shiftSec),
            onKey,
          }}
        />
        <div className="pin-glass-moment" style={{ left: x(0) }} aria-hidden="true" />
      </div>
      <GlassAxis atSec={atSec} halfSec={halfSec} x={x} width={width} most={inner < 420 ? 4 : 8} />
      <div className="pin-glass-act">
        <Button kind="main" disabled={!isInside} onClick={pin}>
          {moved === undefined ? 'Pin here' : `Move the pin at ${clock(moved.atSec, 2)} here`}
        </Button>
        <span role="status">{isInside ? shiftWords(shiftSec) : 'The take has no sound here.'}</span>
        {shiftSec === 0 ? null : (
          <Button small kind="quiet" onClick={() => hold(0)}>
            As it lies
          </Button>
        )}
      </div>
      {reason === null ? null : (
        <div role="alert">
          <Note kind="look" title="It cannot be pinned so.">
            {reason}
          </Note>
        </div>
      )}
      <p className="pin-glass-hint">
        Drag the lower sound until both agree, or press the arrow keys on it (1 ms; with Shift one sample, Page keys 10
        ms; Escape: as it lies). A click brings a moment of the lower sound under the line, and the line to a moment of
        the upper one. Its place changes only when you pin.
      </p>
    </section>
  );
}

interface GlassHeadProps {
  readonly atSec: number;
  readonly zoom: number;
  readonly onLook: (sec: number) => void;
  readonly onZoom: (zoom: number) => void;
}

/** Which moment lies under the glass, how it is heard, and how wide the glass is. */
function GlassHead({ atSec, zoom, onLook, onZoom }: GlassHeadProps) {
  return (
    <div className="pin-glass-head">
      <h3 id="pin-glass-title">Pin it by hand</h3>
      <NumberField
        label="around"
        unit="s"
        value={atSec}
        digits={3}
        step={0.1}
        lowest={-LONGEST_SEC}
        highest={LONGEST_SEC}
        onSet={onLook}
      />
      <Button small onClick={() => onLook(playbackFrame() / SESSION_RATE_HZ)}>
        At the playback line
      </Button>
      <Button small onClick={() => playStretch({ fromSec: atSec - HEARD_SEC, toSec: atSec + HEARD_SEC })}>
        Hear it there
      </Button>
      <span className="pin-glass-zoom">
        <MagnifiedHalf halves={HALVES} zoom={zoom} onZoom={onZoom} />
      </span>
    </div>
  );
}

interface HeldAgainstProps {
  readonly other: Other;
  readonly others: readonly Other[];
  readonly atSec: number;
  readonly halfSec: number;
  readonly width: number;
  readonly onChoose: (id: string) => void;
  readonly onLook: (sec: number) => void;
}

/** The upper sound, and the choice of it. */
function HeldAgainst({ other, others, atSec, halfSec, width, onChoose, onLook }: HeldAgainstProps) {
  const { id, facts, of } = other;
  return (
    <GlassRow
      source={id}
      name={
        <select aria-label="Held against" value={id} onChange={(event) => onChoose(event.target.value)}>
          {others.map((one) => (
            <option key={one.id} value={one.id}>
              {one.name}
            </option>
          ))}
        </select>
      }
      lie={of?.take.placement ?? null}
      {...{ facts, atSec, halfSec, width }}
      colour={of === null ? 'var(--edge)' : voiceColour(of.voice.colour)}
      onClick={(bySec) => onLook(atSec + bySec)}
    />
  );
}

interface GlassAxisProps {
  readonly atSec: number;
  readonly halfSec: number;
  /** Where so many ms from the moment stand, px. */
  readonly x: (ms: number) => number;
  readonly width: number;
  /** About so many figures have room. */
  readonly most: number;
}

/** The moment under the glass, and ms to both sides of it. */
function GlassAxis({ atSec, halfSec, x, width, most }: GlassAxisProps) {
  return (
    <svg className="pin-glass-axis" width={width} height={18} aria-hidden="true">
      {evenTicks(-halfSec * 1000, halfSec * 1000, most).map((ms) => (
        <text
          key={ms}
          x={x(ms)}
          y={12}
          textAnchor={ms >= halfSec * 990 ? 'end' : ms <= -halfSec * 990 ? 'start' : 'middle'}
        >
          {ms === 0 ? clock(atSec, 3) : `${ms > 0 ? '+' : '−'}${Number(Math.abs(ms).toFixed(2))} ms`}
        </text>
      ))}
    </svg>
  );
}

/**
 * What lies under the glass at first: where the playback line stands; while it stands at the beginning the take's clap, else where its
 * music begins, since before it there is nothing to be seen.
 */
function firstMoment(take: Take, facts: TakeFacts | undefined, playbackSec: number): number {
  if (playbackSec > 0) return playbackSec;
  const clap = take.placement?.evidence.find((one) => one.kind === 'clap' && one.accepted);
  return clap?.atSec ?? facts?.music?.fromSec ?? playbackSec;
}

function shiftWords(shiftSec: number): string {
  if (shiftSec === 0) return 'It lies as it is placed.';
  const size = `${figure(Math.abs(1000 * shiftSec), 2)} ms`;
  const frames = Math.round(Math.abs(shiftSec) * SESSION_RATE_HZ);
  return `Held ${size} ${shiftSec > 0 ? 'later' : 'earlier'} than its place (${change(shiftSec > 0 ? frames : -frames, 0)} samples).`;
}

/** What the take can be held against: the guide first, else the voices nearest in the score that sound, then all other takes. */
function useOthers(takeId: string): Other[] {
  const { session, takes, guide } = useView();
  const all = takesInOrder(session);
  const at = all.findIndex((one) => one.take.id === takeId);
  const placed = all
    .map((of, n) => ({ of, away: Math.abs(n - at) + (of.sounds ? 0 : all.length) }))
    .filter(({ of }) => of.take.id !== takeId && of.take.placement !== null && takes[of.take.id]?.waves.before === true)
    .sort((a, b) => a.away - b.away)
    .map(({ of }): Other => ({ id: of.take.id, name: of.take.name, facts: takes[of.take.id]!, of }));
  return guide?.waves.before === true
    ? [{ id: 'guide', name: 'the guide', facts: guide, of: null }, ...placed]
    : placed;
}
