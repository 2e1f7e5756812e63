import { spawnSync } from 'node:child_process';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type Ffmpeg, searchFfmpeg, useFfmpeg } from '../../app/media/ffmpeg.ts';
import { probe } from '../../app/media/probe.ts';
import { filtersOfFfmpeg } from '../../app/picture/abilities.ts';
import { clipPictureOf } from '../../app/picture/clip-picture-facts.ts';
import { renderPicture } from '../../app/picture/render-picture.ts';
import { type TileDesign, usualDesign } from '../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../core/picture/picture-plan.ts';
import { pictureSec } from '../../core/picture/picture-rate.ts';
import { planPicture } from '../../core/picture/plan-picture.ts';
import { boxAt, opacityAt } from '../../core/picture/tile-path.ts';
import { make, makeFolder } from '../app/media/clip-kit.ts';
import { debianFfmpeg } from '../outside-judges.ts';

const CANVAS = { widthPx: 640, heightPx: 360 };
const COLOURS = ['red', 'lime', 'blue'] as const;

// Our own plan is the source; FFmpeg's pictures are measured against it, as the screen's are drawn by it.
describe('tiles over time, measured in the file', () => {
  const folder = makeFolder();
  const builds = new Map<string, Ffmpeg>();
  const voices: VoicePicture[] = [];

  beforeAll(async () => {
    const debian = (await searchFfmpeg({ PARTSONG_FFMPEG: debianFfmpeg })).found!;
    builds.set('Debian', debian);
    const npm = (await searchFfmpeg({ PATH: '' })).found;
    if (npm !== undefined) builds.set('npm', npm);
    useFfmpeg(debian);
    for (const [index, colour] of COLOURS.entries()) {
      const file = `${folder.path}/${colour}.mp4`;
      const source = ['-f', 'lavfi', '-i', `color=${colour}:s=320x180:r=30:d=8`, '-f', 'lavfi', '-i', 'sine=d=8'];
      make(debian, [...source, '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac', file], folder.path);
      voices.push({
        ...{ voiceId: `v${index}`, name: colour, isLead: false, colour: index, peaks: [] },
        pieces: [
          { picture: clipPictureOf(await probe(file)), place: { offsetSec: 0, driftPpm: 0 }, fromSec: -9, toSec: 99 },
        ],
      });
    }
  });
  afterAll(() => {
    useFfmpeg(undefined);
    folder.remove();
  });

  for (const build of ['Debian', 'npm']) {
    for (const [look, roundingPx, borderPx] of [
      ['plain', 0, 0],
      ['with corners and borders', 12, 4],
    ] as const) {
      it(`grow, come and go as planned, within 3 px at every picture, ${look} (${build})`, async () => {
        const found = builds.get(build);
        expect(found, 'an FFmpeg of npm').toBeDefined();
        useFfmpeg(found);
        const tiles: TileDesign[] = [
          { voiceId: 'v0', moments: [{ fromSec: 2, toSec: 3, as: 'large', soft: true }] },
          {
            voiceId: 'v1',
            span: { fromSec: 1.5, toSec: 5 },
            moments: [{ fromSec: 4, toSec: 4.6, as: 'away', soft: true }],
          },
          { voiceId: 'v2', moments: [{ fromSec: 3, toSec: 3.8, as: 'large', soft: false }] },
        ].map((tile) => (borderPx > 0 ? { ...tile, borderPx, borderColour: '#ffffff' } : tile)) as TileDesign[];
        const design = { ...usualDesign(CANVAS), tiles, roundingPx };
        const plan = planPicture({
          ...{ design, voices, span: { fromSec: 1, toSec: 6 }, sound: null },
          filters: await filtersOfFfmpeg(),
        });
        const target = `${folder.path}/${build} ${look}.mp4`;
        await renderPicture(plan, target, {
          output: { container: 'mp4', encoder: 'x264', speed: 'quick', title: '' },
          signal: AbortSignal.timeout(60_000),
          onProgress: () => undefined,
        });
        const raw = spawnSync('ffmpeg', ['-v', 'error', '-i', target, '-pix_fmt', 'rgb24', '-f', 'rawvideo', '-'], {
          maxBuffer: 2 ** 28,
        }).stdout;
        const bytes = CANVAS.widthPx * CANVAS.heightPx * 3;
        expect(raw.length / bytes).toBe(plan.pictures);
        for (let picture = 0; picture < plan.pictures; picture++) {
          const sec = plan.fromSec + pictureSec(picture, plan.rate);
          for (const [index, { path }] of plan.tiles.entries()) {
            const at = `${COLOURS[index]} at ${sec.toFixed(3)} s`;
            const opacity = opacityAt(path, sec);
            const seen = edgesOf(raw.subarray(picture * bytes, (picture + 1) * bytes), index);
            if (opacity === 0) expect(seen, at).toBeUndefined();
            // Others may lie over its edges while they move, and what is half clear has no sure edge.
            if (opacity < 1 || isMoving(plan.tiles, sec)) continue;
            const box = boxAt(path, sec);
            const wanted = [box.xPx, box.yPx, box.xPx + box.widthPx, box.yPx + box.heightPx];
            const room = borderPx * 3;
            for (const [side, px] of seen!.entries()) {
              expect(Math.abs(px - wanted[side]!), `${at}, side ${side}`).toBeLessThanOrEqual(3 + room);
            }
          }
        }
        // While it moves, the one that is on top is where it should be: 15 pictures, half of them under way.
        const moving = Array.from({ length: 13 }, (_, n) => 31 + n).map((picture) => {
          const box = boxAt(plan.tiles[0]!.path, plan.fromSec + pictureSec(picture, plan.rate));
          const seen = edgesOf(raw.subarray(picture * bytes, (picture + 1) * bytes), 0)!;
          return Math.max(Math.abs(seen[0]! - box.xPx), Math.abs(seen[2]! - box.xPx - box.widthPx));
        });
        expect(Math.max(...moving)).toBeLessThanOrEqual(3 + borderPx * 3);
      }, 90_000);
    }
  }
});

type Tiles = ReturnType<typeof planPicture>['tiles'];

function isMoving(tiles: Tiles, sec: number): boolean {
  return tiles.some(({ path }) =>
    path.steps.some(({ atSec, changeSec }) => sec > atSec - 0.04 && sec < atSec + changeSec + 0.04),
  );
}

/** Left, top, right and bottom of what has a colour (0 red, 1 green, 2 blue) in a picture; undefined where nothing has. */
function edgesOf(rgb: Uint8Array, colour: number): [number, number, number, number] | undefined {
  let [left, top, right, bottom] = [CANVAS.widthPx, CANVAS.heightPx, 0, 0];
  for (let y = 0, at = 0; y < CANVAS.heightPx; y++) {
    for (let x = 0; x < CANVAS.widthPx; x++, at += 3) {
      const own = rgb[at + colour]!;
      if (own < 150 || rgb[at + ((colour + 1) % 3)]! > 90 || rgb[at + ((colour + 2) % 3)]! > 90) continue;
      left = Math.min(left, x);
      right = Math.max(right, x + 1);
      top = Math.min(top, y);
      bottom = Math.max(bottom, y + 1);
    }
  }
  return right === 0 ? undefined : [left, top, right, bottom];
}
