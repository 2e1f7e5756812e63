import { describe, expect, it } from 'vitest';
import type { DeskView, TakeFacts } from '../../../../app/shell/contract/desk-view.ts';
import type { ClipPicture } from '../../../../core/picture/clip-picture.ts';
import { apply, type Edit } from '../../../../core/session/edit.ts';
import { usualPicture, usualTile } from '../../../../core/session/picture-choice.ts';
import type { Session } from '../../../../core/session/schema.ts';
import { swapEdit } from '../../../../renderer/steps/picture/picture-edits.ts';
import { inOrder, pictureInBox, pictureModel, tileAt } from '../../../../renderer/steps/picture/picture-model.ts';
import { nearestShape } from '../../../../renderer/steps/picture/picture-words.ts';
import { coversAt } from '../../../../renderer/steps/picture/stage-paint.ts';
import { dragNow, heldZoom, movedBy, neighbourOf, resizedBy } from '../../../../renderer/steps/picture/tile-moves.ts';
import { movingTiles, orderFor, playableCount, videoSecAt } from '../../../../renderer/steps/picture/video-sync.ts';
import { benchSession } from '../bench-session.ts';

const clip = (n: number): ClipPicture => ({
  file: `${n}.mp4`,
  ...{ streamIndex: 0, zeroSec: 0, startSec: 0, endSec: 60, rate: 25, isUneven: false },
  ...{ coded: { widthPx: 1920, heightPx: 1080 }, dotAspect: 1, rotationDeg: n === 2 ? -90 : 0 },
  ...{ isInterlaced: false, canSeek: true },
  colour: { matrix: 'bt709', primaries: 'bt709', transfer: 'bt709', range: 'tv' },
});

/** Four voices; the third has no picture, the second was filmed upright. The music lies from 8 to 58 s of 60 s. */
function viewOf(session: Session = benchSession(4)): DeskView {
  const takes = Object.fromEntries(
    session.takes.map(({ id }, index) => {
      const picture = { clip: clip(index + 1), codec: 'h264', plays: true, proxy: 'waiting', proxyFault: null };
      return [id, { takeId: id, picture: index === 2 ? null : picture } as TakeFacts];
    }),
  );
  const blend = {
    voices: [],
    span: { fromSec: 8, toSec: 58 },
    lengthFrames: 60 * 48000,
    master: null,
    measuring: false,
  };
  return { session, takes, blend } as unknown as DeskView;
}
const changed = (...edits: readonly Edit[]): DeskView => viewOf(edits.reduce(apply, benchSession(4)));
const model = (view = viewOf()) => pictureModel(view, ['xstack', 'zscale', 'tonemap']);

describe('the picture of a session on the bench', () => {
  it('is laid out before anything was chosen: every voice a tile, the video as long as the music', () => {
    const { tiles, plan, span, isChosen, blocked } = model();
    expect(isChosen).toBe(false);
    expect(blocked).toBeNull();
    expect(span).toEqual({ fromSec: 8, toSec: 58 });
    expect(tiles.map(({ clips }) => clips.length)).toEqual([1, 1, 0, 1]);
    expect(tiles[1]!.clips[0]!.shown).toEqual({ widthPx: 1080, heightPx: 1920 });
    expect(plan!.pictures).toBe(50 * 25);
    expect(plan!.notes.join(' ')).toContain('Voice 3 has no picture');
  });

  it('leaves out hidden and muted voices and says which', () => {
    const hidden = changed(
      { kind: 'setTile', voiceId: 'voice-1', tile: { ...usualTile('voice-1'), shown: false } },
      { kind: 'setMuted', voiceId: 'voice-2', muted: true },
    );
    const { tiles, hidden: names, unseen } = model(hidden);
    expect(tiles.map(({ voiceId }) => voiceId)).toEqual(['voice-3', 'voice-4']);
    expect(names).toEqual([{ voiceId: 'voice-1', name: 'Voice 1' }]);
    expect(unseen).toEqual([{ voiceId: 'voice-2', name: 'Voice 2', why: 'it is muted' }]);
  });

  it('says why nothing can be rendered where no clip has a picture', () => {
    const view = viewOf();
    for (const facts of Object.values(view.takes)) Object.assign(facts, { picture: null });
    expect(model(view).blocked).toContain('None of the clips has a picture');
  });

  it('shows the part of a clip that the video shows: a cut fills its box', () => {
    const [tile] = model().tiles;
    const { shown, cut } = tile!.clips[0]!;
    const at = pictureInBox(shown, cut);
    expect(at.left + at.width * (cut.xPx / shown.widthPx)).toBeCloseTo(0, 10);
    expect(at.width * (cut.widthPx / shown.widthPx)).toBeCloseTo(1, 10);
    expect(at.height * (cut.heightPx / shown.heightPx)).toBeCloseTo(1, 10);
  });

  it('changes places of two tiles in one step of undo, crops staying with their clips', () => {
    const crop = { focusX: 0.2, focusY: 0.5, zoom: 2 };
    const view = changed({ kind: 'setTile', voiceId: 'voice-1', tile: { ...usualTile('voice-1'), crop } });
    const [one, , , four] = model(view).tiles;
    const after = model(viewOf(apply(view.session, swapEdit(one!, four!)))).tiles;
    expect(after[0]!.box).toEqual(four!.box);
    expect(after[3]!.box).toEqual(one!.box);
    expect(after[0]!.crop).toEqual(crop);
  });

  it('knows the usual shapes of a canvas and those of nobody', () => {
    expect(nearestShape({ widthPx: 1080, heightPx: 1350 })).toBe('4:5');
    expect(nearestShape({ widthPx: 1000, heightPx: 720 })).toBeNull();
  });
});

describe('a tile that is dragged', () => {
  const { tiles, picture } = model();
  const move = { byX: 0, byY: 0, atX: 0, atY: 0, scale: 0.25, isFree: false, keepsShape: false };
  const middle = (n: number) => {
    const { box } = tiles[n]!;
    return { atX: box.xPx + box.widthPx / 2, atY: box.yPx + box.heightPx / 2 };
  };

  it('changes places with the tile in whose middle it is let go, and with none under Ctrl', () => {
    const to = { ...move, ...middle(3), byX: 700, byY: 400 };
    expect(dragNow('carry', tiles[0]!, tiles, picture.canvas, 6, to).swapsWith?.voiceId).toBe('voice-4');
    expect(dragNow('carry', tiles[0]!, tiles, picture.canvas, 6, { ...to, isFree: true }).swapsWith).toBeNull();
  });

  it('comes to lie on a third of the canvas near it, and stays on the canvas', () => {
    const { box } = tiles[0]!;
    const by = 640 - box.xPx + 2;
    const { snapped } = dragNow('carry', tiles[0]!, tiles, picture.canvas, 6, { ...move, byX: by });
    expect(snapped.box.xPx).toBe(640);
    expect(snapped.lines).toContainEqual({ axis: 'x', atPx: 640 });
    const far = dragNow('carry', tiles[0]!, tiles, picture.canvas, 6, { ...move, byX: 9999, byY: 9999 }).snapped.box;
    expect(far.xPx + far.widthPx).toBe(1920);
    expect(far.yPx + far.heightPx).toBe(1080);
  });

  it('is moved and made larger by keys within the canvas, on even px', () => {
    const box = { xPx: 4, yPx: 4, widthPx: 100, heightPx: 80 };
    expect(movedBy(box, picture.canvas, -16, 16)).toEqual({ ...box, xPx: 0, yPx: 20 });
    expect(resizedBy(box, picture.canvas, 4000, -4000)).toEqual({ ...box, widthPx: 1916, heightPx: 32 });
    expect(heldZoom(0.2)).toBe(1);
    expect(heldZoom(2.33)).toBe(2.35);
  });

  it('finds its neighbour in the direction of an arrow', () => {
    expect(neighbourOf(tiles[0]!, tiles, 1, 0)?.voiceId).toBe('voice-2');
    expect(neighbourOf(tiles[0]!, tiles, 0, 1)?.voiceId).toBe('voice-3');
    expect(neighbourOf(tiles[0]!, tiles, -1, 0)).toBeUndefined();
  });

  it('is found under the pointer, the topmost first', () => {
    const on = changed({
      kind: 'setTile',
      voiceId: 'voice-1',
      tile: { ...usualTile('voice-1'), box: { xPx: 0, yPx: 0, widthPx: 1920, heightPx: 1080 }, order: 5 },
    });
    const all = model(on).tiles;
    expect(inOrder(all).at(-1)!.voiceId).toBe('voice-1');
    expect(tileAt(all, 1500, 900, null)?.voiceId).toBe('voice-1');
    expect(tileAt(all, 1500, 900, 'voice-1')?.voiceId).toBe('voice-4');
  });
});

describe('a video in step with the player', () => {
  const now = { currentTime: 10, duration: 60, seeking: false, playbackRate: 1 };

  it('is asked for the moment that sounds, drift and a container of another time zero counted in', () => {
    const [tile] = model().tiles;
    const piece = { ...tile!.clips[0]!, place: { offsetSec: 1, driftPpm: 100 } };
    const late = { ...piece, clip: { ...piece.clip, zeroSec: 0.5 } };
    expect(videoSecAt(piece, 11, false)).toBeCloseTo(10.001, 9);
    expect(videoSecAt(late, 11, false)).toBeCloseTo(10.501, 9);
    expect(videoSecAt(late, 11, true)).toBeCloseTo(10.001, 9);
  });

  it('runs on within 6 ms, is quickened or slowed by 12 % at most when off, and jumps beyond 250 ms', () => {
    expect(orderFor(10.005, true, now)).toEqual({ seekTo: null, rate: 1, plays: true });
    expect(orderFor(10.03, true, now)).toEqual({ seekTo: null, rate: 1.06, plays: true });
    expect(orderFor(9.8, true, now).rate).toBeCloseTo(0.88, 9);
    expect(orderFor(20, true, now)).toEqual({ seekTo: 20.06, rate: 1, plays: true });
    expect(orderFor(20, true, { ...now, seeking: true }).seekTo).toBeNull();
  });

  it('stands exactly at the moment while nothing plays, and asks for no second jump on the way', () => {
    expect(orderFor(12, false, now)).toEqual({ seekTo: 12.001, rate: 1, plays: false });
    expect(orderFor(12, false, { ...now, currentTime: 12.001 }).seekTo).toBeNull();
    expect(orderFor(12, false, { ...now, seeking: true }).seekTo).toBeNull();
  });

  it('stands at its first and last picture before its beginning and after its end', () => {
    expect(orderFor(-2, true, now)).toEqual({ seekTo: 0, rate: 1, plays: false });
    expect(orderFor(99, true, now).plays).toBe(false);
    expect(orderFor(99, true, now).seekTo).toBeCloseTo(59.991, 6);
  });

  it('comes back within 40 ms of the sound in half a second from 120 ms off', () => {
    let at = { ...now, currentTime: 9.88 };
    for (let frame = 0; frame < 30; frame++) {
      const { rate } = orderFor(10 + frame / 60, true, at);
      at = { ...at, currentTime: at.currentTime + rate / 60 };
    }
    // 12 % of half a second are 60 ms at most; what is left shrinks from there.
    expect(Math.abs(10.5 - at.currentTime)).toBeLessThan(0.07);
    for (let frame = 30; frame < 60; frame++) {
      const { rate } = orderFor(10 + frame / 60, true, at);
      at = { ...at, currentTime: at.currentTime + rate / 60 };
    }
    expect(Math.abs(11 - at.currentTime)).toBeLessThan(0.03);
  });

  it('moves where the computer can be expected to show it: 4 a processor, the tile in hand and the largest first', () => {
    expect([1, 2, 8, 64].map(playableCount)).toEqual([4, 8, 25, 25]);
    const { tiles } = model();
    expect([...movingTiles(tiles, 1, 'voice-4')]).toEqual(['voice-4']);
    expect(movingTiles(tiles, 9, null).has('voice-3')).toBe(false);
  });
});

describe('title and fades on the bench', () => {
  it('come and go as in the video; without them nothing covers the canvas', () => {
    const span = { fromSec: 8, toSec: 58 };
    const title = { text: 'Round', subtitle: '', lengthSec: 4 };
    const faded = { ...usualPicture(), title, fade: { inSec: 2, outSec: 1 } };
    expect(coversAt({ picture: faded, span }, 8)).toEqual({ title: 0, black: 1 });
    expect(coversAt({ picture: faded, span }, 10)).toEqual({ title: 1, black: 0 });
    expect(coversAt({ picture: faded, span }, 57.5).black).toBeCloseTo(0.5, 9);
    expect(coversAt({ picture: usualPicture(), span }, 8)).toEqual({ title: 0, black: 0 });
  });
});
