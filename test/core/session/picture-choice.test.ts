import { describe, expect, it } from 'vitest';
import type { ClipPicture } from '../../../core/picture/clip-picture.ts';
import { designFaults } from '../../../core/picture/picture-design.ts';
import { apply, type Edit } from '../../../core/session/edit.ts';
import { editLabel } from '../../../core/session/edit-label.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { beginHistory, doEdit, undo } from '../../../core/session/history.ts';
import { designOf, onCanvas, tileOf, usualPicture, usualTile } from '../../../core/session/picture-choice.ts';
import { tileSchema } from '../../../core/session/picture-schema.ts';
import {
  emptySession,
  formatSession,
  parseSession,
  SESSION_VERSION,
  type Session,
  type Take,
} from '../../../core/session/schema.ts';
import { leadOf, sessionPictures } from '../../../core/session/voice-pictures.ts';

const take = (id: string, voiceId: string, offsetSec: number | null): Take => ({
  id,
  name: id,
  voiceId,
  clip: { path: `${id}.mov`, sizeBytes: 1000, fingerprint: 'a'.repeat(64) },
  silence: null,
  clean: { on: true, character: 'even', rule: 'lsa', fine: null },
  mark: 'none',
  remark: '',
  part: null,
  mend: null,
  placement:
    offsetSec === null
      ? null
      : {
          ...{ offsetSec, driftPpm: 20, uncertaintySec: 0.001, driftUncertaintyPpm: 1, confidence: 1 },
          ...{ question: null, by: 'user', evidence: [] },
        },
});
const voice = (id: string, role: 'lead' | 'inner', chosenTakeId: string | null) =>
  ({
    ...{ id, name: id.toUpperCase(), role, colour: 0, trimDb: 0, placeDeg: null, muted: false },
    ...{ chosenTakeId, passages: null },
  }) as const;

const session: Session = {
  ...emptySession('Round'),
  voices: [voice('v1', 'inner', 't1'), voice('v2', 'lead', 't2'), voice('v3', 'inner', null)],
  takes: [take('t1', 'v1', 0.5), take('t2', 'v2', -0.25), take('t3', 'v3', null), take('t1b', 'v1', 1.5)],
};
const box = { xPx: 10, yPx: 20, widthPx: 400, heightPx: 300 };

describe('what is chosen for the picture', () => {
  it('is nothing in a session of version 4, and stays through writing and reading', () => {
    const { picture: _none, ...older } = session;
    const read = parseSession(JSON.stringify({ ...older, version: 4 }), 'session.json');
    expect(read.version).toBe(SESSION_VERSION);
    expect(read.picture).toBeNull();
    const chosen = apply(read, { kind: 'setPicture', parts: { names: true, background: '#102030' } });
    expect(parseSession(formatSession(chosen), 'session.json').picture).toEqual({
      ...usualPicture(),
      names: true,
      background: '#102030',
    });
  });

  it('takes parts and tiles by themselves, and an undo brings back that nothing was chosen', () => {
    let history = beginHistory(session);
    history = doEdit(history, { kind: 'setTile', voiceId: 'v1', tile: { ...usualTile('v1'), box } }, 'drag:1');
    history = doEdit(
      history,
      { kind: 'setTile', voiceId: 'v1', tile: { ...usualTile('v1'), box: { ...box, xPx: 50 } } },
      'drag:1',
    );
    expect(history.past).toHaveLength(1);
    history = doEdit(history, { kind: 'setPicture', parts: { roundingPx: 12 } });
    expect(history.present.picture?.roundingPx).toBe(12);
    expect(tileOf(history.present.picture!, 'v1').box?.xPx).toBe(50);
    expect(undo(undo(history)).present.picture).toBeNull();
  });

  it('lets the tile go with its voice, and refuses a tile for a voice that is not there', () => {
    const tiled = apply(session, { kind: 'setTile', voiceId: 'v1', tile: { ...usualTile('v1'), mirrored: true } });
    expect(apply(tiled, { kind: 'removeVoice', voiceId: 'v1' }).picture?.tiles).toEqual([]);
    expect(() => apply(session, { kind: 'setTile', voiceId: 'v9', tile: null })).toThrow(RangeError);
  });

  it.each<[string, unknown, boolean]>([
    ['a canvas', { canvas: { widthPx: 1080, heightPx: 1920 } }, true],
    ['an odd canvas', { canvas: { widthPx: 1081, heightPx: 1920 } }, false],
    ['29.97 pictures/s', { rate: { over: 30000, under: 1001 } }, true],
    ['31 pictures/s', { rate: { over: 31, under: 1 } }, false],
    ['a colour by its name', { background: 'red' }, false],
    ['a field nobody knows', { shine: 1 }, false],
  ])('checks at the door: %s', (_what, parts, isFine) => {
    expect(editSchema.safeParse({ kind: 'setPicture', parts }).success).toBe(isFine);
  });

  it('adds nothing to the parts of an edit that were left out', () => {
    const edit = { kind: 'setPicture', parts: { names: true } };
    expect(editSchema.parse(edit)).toEqual(edit);
  });

  it.each<[Edit, string]>([
    [{ kind: 'setPicture', parts: { names: true } }, 'names'],
    [{ kind: 'setPicture', parts: onCanvas(usualPicture(), { widthPx: 720, heightPx: 720 }) }, 'canvas'],
    [{ kind: 'setPicture', parts: null }, 'picture as at first'],
    [{ kind: 'setTile', voiceId: 'v2', tile: null }, 'tile of V2'],
  ])('says what an edit does', (edit, words) => {
    expect(editLabel(edit, session)).toBe(words);
  });
});

describe('a canvas that is changed', () => {
  it('keeps tiles put by hand on it and even, at their share of its sides', () => {
    const picture = {
      ...usualPicture(),
      roundingPx: 20,
      tiles: [{ ...usualTile('v1'), box: { xPx: 960, yPx: 540, widthPx: 960, heightPx: 540 } }],
    };
    const upright = onCanvas(picture, { widthPx: 1080, heightPx: 1920 });
    expect(upright.tiles[0]!.box).toEqual({ xPx: 540, yPx: 960, widthPx: 540, heightPx: 960 });
    expect(designFaults(designOf(onCanvas(picture, { widthPx: 854, heightPx: 480 }), ['v1']))).toEqual([]);
    expect(onCanvas(picture, { widthPx: 3840, heightPx: 2160 }).roundingPx).toBe(40);
  });
});

describe('the voices of a session on a canvas', () => {
  const picture = { file: 't1.mov' } as ClipPicture;
  const span = { fromSec: 2, toSec: 60 };

  it('lie where the sound lies, and those that lie nowhere are named with the reason', () => {
    const { voices, unseen } = sessionPictures(session, span, (takeId) => (takeId === 't1' ? picture : null));
    expect(voices.map(({ voiceId, isLead }) => [voiceId, isLead])).toEqual([
      ['v1', false],
      ['v2', true],
    ]);
    expect(voices[0]!.pieces).toEqual([{ picture, place: { offsetSec: 0.5, driftPpm: 20 }, ...span }]);
    expect(voices[1]!.pieces[0]!.picture).toBeNull();
    expect(unseen).toEqual([{ voiceId: 'v3', name: 'V3', why: 'nobody knows where its take lies in time' }]);
  });

  it('are cut where passages of their takes are joined', () => {
    const passages = [
      { takeId: 't1', fromSec: 3, toSec: 20 },
      { takeId: 't1b', fromSec: 20, toSec: 30 },
    ];
    const joined = apply(session, { kind: 'setPassages', voiceId: 'v1', passages });
    const { pieces } = sessionPictures(joined, span, () => picture).voices[0]!;
    expect(pieces.map(({ fromSec, toSec, place }) => [fromSec, toSec, place.offsetSec])).toEqual([
      [2, 20, 0.5],
      [20, 60, 1.5],
    ]);
  });

  it('are led by whom the user chose, else by the lead of the music', () => {
    expect(leadOf(session)).toBe('v2');
    expect(leadOf(apply(session, { kind: 'setPicture', parts: { leadVoiceId: 'v3' } }))).toBe('v3');
  });
});

describe('moments of tiles in a session', () => {
  const large = { fromSec: 4, toSec: 9, as: 'large', soft: true } as const;
  const box = { xPx: 960, yPx: 540, widthPx: 480, heightPx: 270 };

  it('are kept, checked, and handed to the design', () => {
    const tile = {
      ...usualTile('v1'),
      moments: [large, { ...large, fromSec: 12, toSec: 14, as: 'box' as const, box }],
    };
    expect(tileSchema.parse(tile)).toEqual(tile);
    const [design] = designOf({ ...usualPicture(), tiles: [tile] }, ['v1']).tiles;
    expect(design!.moments).toEqual(tile.moments);
    for (const wrong of [
      { ...large, toSec: 4 },
      { ...large, as: 'small' },
      { ...large, box },
      { ...large, as: 'box' },
    ]) {
      expect(tileSchema.safeParse({ ...usualTile('v1'), moments: [wrong] }).success, JSON.stringify(wrong)).toBe(false);
    }
    // Sessions from before there were moments.
    expect(tileSchema.parse(usualTile('v1'))).not.toHaveProperty('moments');
  });

  it('keep their share of the canvas when it changes', () => {
    const tile = { ...usualTile('v1'), moments: [{ ...large, as: 'box' as const, box }] };
    const smaller = onCanvas({ ...usualPicture(), tiles: [tile] }, { widthPx: 1280, heightPx: 720 });
    expect(smaller.tiles[0]!.moments![0]!.box).toEqual({ xPx: 640, yPx: 360, widthPx: 320, heightPx: 180 });
  });
});
