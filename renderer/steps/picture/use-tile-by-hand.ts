import { type KeyboardEvent, type PointerEvent, useRef } from 'react';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { nextGesture } from '../drawing/gesture.ts';
import { putTile, swapEdit } from './picture-edits.ts';
import type { PictureModel, PictureTile } from './picture-model.ts';
import { type DragKind, type DragMove, KEY_STEP_PX, movedBy, neighbourOf, resizedBy } from './tile-moves.ts';

/** A tile that is moved by hand, and who hears of its drags. */
export interface TileByHand {
  /** As the session has it. */
  readonly still: PictureTile;
  readonly model: PictureModel;
  /** px of the screen a px of the canvas. */
  readonly scale: number;
  readonly onDrag: (tile: PictureTile, move: DragMove, kind: DragKind) => void;
  readonly onDrop: (tile: PictureTile) => void;
  readonly onDragEnd: () => void;
}

/** A hand that trembles drags nothing, px of the screen. */
const TREMBLE_PX = 3;

/** What a tile's button listens to: a press takes it in hand, dragging and arrow keys move it. */
export function useTileByHand(hand: TileByHand) {
  const { still, model, scale } = hand;
  const begun = useRef<{ x: number; y: number; kind: DragKind; isOnTheWay: boolean } | null>(null);
  const gesture = useRef(0);
  const moveOf = (event: PointerEvent): DragMove => {
    const from = begun.current!;
    const surface = event.currentTarget.closest('.picture-canvas')!.getBoundingClientRect();
    return {
      byX: (event.clientX - from.x) / scale,
      byY: (event.clientY - from.y) / scale,
      atX: (event.clientX - surface.left) / scale,
      atY: (event.clientY - surface.top) / scale,
      scale,
      isFree: event.ctrlKey || event.metaKey,
      keepsShape: event.shiftKey,
    };
  };
  const onKeyDown = (event: KeyboardEvent): void => {
    const step = arrows[event.key];
    if (event.key === 'Escape' && begun.current !== null) {
      begun.current = null;
      hand.onDragEnd();
      return;
    }
    if (step === undefined || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    const [dx, dy] = step;
    if (event.shiftKey) {
      const other = neighbourOf(still, model.tiles, dx, dy);
      if (other !== undefined) edit(swapEdit(still, other));
      return;
    }
    const isResize = event.ctrlKey || event.metaKey;
    const next = (isResize ? resizedBy : movedBy)(still.box, model.picture.canvas, dx * KEY_STEP_PX, dy * KEY_STEP_PX);
    putTile(still, next, `tile:${still.voiceId}:${gesture.current}`);
  };
  return {
    onFocus: () => {
      gesture.current = nextGesture();
      useBench.setState({ voiceId: still.voiceId });
    },
    onPointerDown: (event: PointerEvent<HTMLElement>) => {
      if (event.button !== 0) return;
      event.currentTarget.setPointerCapture(event.pointerId);
      event.currentTarget.focus();
      const onCorner = (event.target as Element).closest('.picture-corner') !== null;
      begun.current = {
        x: event.clientX,
        y: event.clientY,
        kind: onCorner ? 'resize' : 'carry',
        isOnTheWay: false,
      };
    },
    onPointerMove: (event: PointerEvent) => {
      const from = begun.current;
      if (from === null || event.buttons === 0) return;
      from.isOnTheWay ||= Math.hypot(event.clientX - from.x, event.clientY - from.y) > TREMBLE_PX;
      if (from.isOnTheWay) hand.onDrag(still, moveOf(event), from.kind);
    },
    onPointerUp: () => {
      const isDrop = begun.current?.isOnTheWay === true;
      begun.current = null;
      if (isDrop) hand.onDrop(still);
    },
    onPointerCancel: () => {
      begun.current = null;
      hand.onDragEnd();
    },
    onKeyDown,
  };
}

const arrows: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};
