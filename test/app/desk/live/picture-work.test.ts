import { existsSync, readdirSync } from 'node:fs';
import { basename, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { probe } from '../../../../app/media/probe.ts';
import { canvasOfShape } from '../../../../core/picture/canvas.ts';
import { onCanvas, usualPicture } from '../../../../core/session/picture-choice.ts';
import { type TestDesk, testDesk } from '../../shell/host/host-kit.ts';
import { cleanFolders } from '../desk-kit.ts';

cleanFolders();

const SMALL = { folder: null, container: 'mp4', speed: 'quick', cover: true } as const;

describe('pictures of the sample session on the desk', () => {
  let desk: TestDesk;
  const view = () => desk.host.view()!;
  const filmed = () => view().session.takes.filter(({ id }) => view().takes[id]!.picture !== null);

  beforeAll(async () => {
    desk = testDesk();
    await desk.call('openSample', {});
    await desk.idle();
  });
  afterAll(() => desk.host.close());

  it('are known for the two filmed clips, and no small copies are made before a page asks', () => {
    expect(view().session.takes.map(({ id }) => view().takes[id]!.hasPicture)).toEqual([false, true, false, true]);
    for (const { id } of filmed()) {
      const picture = view().takes[id]!.picture!;
      expect(picture).toMatchObject({ codec: 'h264', plays: true, proxy: 'waiting', proxyFault: null });
      expect(picture.clip.endSec).toBeGreaterThan(20);
      expect(picture.clip.rate).toBeGreaterThan(10);
    }
  });

  it('get small copies once a page shows them, without sound and kept in the cache', async () => {
    const [take] = filmed();
    const { filters } = await desk.call('preparePictures', { cannotPlay: [take!.id] });
    expect(filters).toContain('xstack');
    await desk.idle();
    const picture = view().takes[take!.id]!.picture!;
    expect(picture).toMatchObject({ plays: false, proxy: 'ready' });
    const media = await desk.host.media(`proxy/${take!.id}`);
    expect(media?.type).toBe('video/mp4');
    const path = desk.host.live!.sounds.proxyOf(take!.id)!;
    expect(readdirSync(desk.host.live!.desk.cache.folder)).toContain(basename(path));
    const fault: unknown = await probe(path).catch((error: unknown) => error);
    expect(fault).toMatchObject({ code: 'no-sound' });
    expect(filmed().map(({ id }) => view().takes[id]!.picture!.proxy)).toEqual(['ready', 'ready']);
    expect(await desk.host.media('proxy/take-9')).toBeNull();
  });

  it('become a video of the mix: as long, at -14 LUFS within 0.1 LU, under the ceiling; one at a time', async () => {
    const parts = onCanvas(usualPicture(), canvasOfShape('16:9', 270));
    await desk.call('edit', {
      edit: { kind: 'setPicture', parts: { ...parts, rate: { over: 24, under: 1 }, matched: true } },
      mergeKey: null,
      by: 'page',
      seq: 1,
    });
    expect(view().undoLabel).toBe('canvas');
    await desk.call('renderPicture', SMALL);
    expect((await desk.faultOf('renderPicture', SMALL)).code).toBe('bad-option');
    await desk.idle();
    const made = view().madePicture!;
    expect(made.files.map(({ what }) => what)).toEqual(['video', 'cover']);
    expect(made).toMatchObject({ canvas: parts.canvas, rate: '24', tiles: 4, current: true });
    expect(made.notes.some((note) => note.includes('is matched to the others'))).toBe(true);
    expect(Math.abs(made.integratedLufs! + 14)).toBeLessThan(0.1);
    // AAC decoded: what is tolerated above the ceiling is told in app/picture/mix-sound.ts.
    expect(made.truePeakDbtp).toBeLessThan(-0.9);
    const { span } = view().blend!;
    expect(Math.abs(made.lengthSec - (span!.toSec - span!.fromSec))).toBeLessThan(2 / 24);
    expect(view().steps.picture).toMatchObject({ state: 'done', sentence: 'The video is made.' });
    const video = await desk.host.media(`picture/${encodeURIComponent(basename(made.files[0]!.path))}`);
    expect(video?.totalBytes).toBe(made.files[0]!.sizeBytes);
    expect(readdirSync(desk.host.live!.desk.cache.folder).filter((name) => name.startsWith('video-'))).toEqual([]);
  });

  it('are out of date once a tile is moved, and in date again after an undo', async () => {
    const { id } = view().session.voices[0]!;
    const edit = { kind: 'setTile', voiceId: id, tile: null } as const;
    await desk.call('edit', {
      edit: {
        ...edit,
        tile: { voiceId: id, shown: false, box: null, crop: null, mirrored: false, order: 0, span: null },
      },
      mergeKey: null,
      by: 'page',
      seq: 2,
    });
    await desk.idle();
    expect(view().madePicture!.current).toBe(false);
    expect(view().steps.picture.state).toBe('toDo');
    await desk.call('undo', {});
    await desk.idle();
    expect(view().madePicture!.current).toBe(true);
  });

  it('leave nothing of a video that was stopped, and keep the one before', async () => {
    const before = view().madePicture!.files[0]!;
    const { jobId } = await desk.call('renderPicture', { ...SMALL, folder: join(desk.home, 'elsewhere') });
    await desk.call('stopJob', { jobId });
    await desk.idle();
    expect(readdirSync(join(desk.home, 'elsewhere'))).toEqual([]);
    expect(view().madePicture!.files[0]).toEqual(before);
    expect(existsSync(before.path)).toBe(true);
  });
});
