import { useState } from 'react';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { useView } from '../../desk/desk-store.ts';
import { playStretch } from '../../lanes/play-stretch.ts';
import { playbackFrame } from '../../lanes/the-player.ts';
import { Button } from '../../parts/button.tsx';
import { clock } from '../../parts/numbers.ts';
import { voiceColour } from '../../parts/voice-colours.ts';
import { evenScale, evenTicks } from '../drawing/axes.ts';
import { NumberField } from '../drawing/number-field.tsx';
import type { TakeOfVoice } from '../drawing/take-at-hand.ts';
import { useWidth } from '../drawing/use-width.ts';
import { MagnifiedHalf } from './closer-wider.tsx';
import { HeldAgainst, useOthers } from './held-against.tsx';
import { HeldRow, PinHere } from './held-take.tsx';
import { useHeldTake } from './use-held-take.ts';
import './pins.css';

/** Halves of the window to choose from, s. */
const HALVES = [0.003, 0.01, 0.025, 0.05, 0.15, 0.4];
const FIRST_HALF = 3;
const NAME_WIDTH = 128;
const LONGEST_SEC = 7200;
/** So much is heard before and after the moment, s. */
const HEARD_SEC = 1.5;

/** Two sounds on one time axis, magnified: the take in hand and what it is held against. Moved upon one another, they are pinned. */
export function PinGlass({ atHand }: { readonly atHand: TakeOfVoice }) {
  const { take, voice } = atHand;
  const others = useOthers(take.id);
  const facts = useView().takes[take.id];
  const held = useHeldTake(take, facts);
  const [chosen, setChosen] = useState<string | null>(null);
  const [zoom, setZoom] = useState(FIRST_HALF);
  const [box, width] = useWidth<HTMLDivElement>(560);
  const inner = Math.max(120, Math.round(width - NAME_WIDTH - 8));
  const { atSec, look } = held;
  const halfSec = HALVES[zoom]!;
  const other = others.find((one) => one.id === chosen) ?? others[0];
  if (facts === undefined || !facts.waves.before) return null;
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
        <HeldRow held={held} facts={facts} colour={voiceColour(voice.colour)} halfSec={halfSec} width={inner} />
        <div className="pin-glass-moment" style={{ left: x(0) }} aria-hidden="true" />
      </div>
      <GlassAxis atSec={atSec} halfSec={halfSec} x={x} width={width} most={inner < 420 ? 4 : 8} />
      <PinHere held={held} lengthSec={facts.lengthSec} />
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
