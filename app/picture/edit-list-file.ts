import { stat, writeFile } from 'node:fs/promises';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { type EditList, evenStretches, type ListedClip, type ListedTrack } from '../../core/picture/edit-list.ts';
import { edlText } from '../../core/picture/edl.ts';
import { otioText } from '../../core/picture/otio.ts';
import type { SessionSpan } from '../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../core/picture/picture-plan.ts';
import { type PictureRate, rateForClips } from '../../core/picture/picture-rate.ts';
import { soundingTake } from '../../core/session/passages.ts';
import { sessionPictures } from '../../core/session/voice-pictures.ts';
import { sessionSecOf } from '../../core/signal/clock.ts';
import { refuseTargets } from '../desk/source-guard.ts';
import { writeWhole } from '../media/whole-file.ts';
import { type MixedSession, pictureOfTake, readMixedSession, takesSeen } from './session-pictures.ts';
import { spanOf, type Trim } from './trim.ts';

export interface EditListOptions {
  readonly session: string;
  readonly target: string;
  readonly kind: 'otio' | 'edl';
  readonly trim: Trim | undefined;
  readonly signal: AbortSignal;
}

export interface EditListReport {
  readonly format: 'partsong-edit-list';
  readonly version: 1;
  readonly file: string;
  readonly clips: number;
  readonly tracks: number;
  readonly lengthSec: number;
  readonly notes: readonly string[];
}

const SOUND: PictureRate = { over: 48000, under: 1 };

/**
 * Writes the lined-up clips as an edit list: a picture track a voice, the stems, and the mix, cut to the same stretch.
 * Files are named by where they lie from the list, so that a folder that holds all of it can be moved. Throws PartsongError
 * or CancelledError.
 */
export async function writeEditList(options: EditListOptions): Promise<EditListReport> {
  const { target, signal, kind } = options;
  const mixed = await readMixedSession(options.session, signal);
  const span = spanOf(options.trim, mixed);
  const takes = await takesSeen(mixed, signal);
  await refuseTargets([target], [mixed.mixPath, ...[...takes.values()].map(({ clipPath }) => clipPath)]);
  const { voices } = sessionPictures(mixed.session, span, pictureOfTake(takes));
  const rates = voices.flatMap(({ pieces }) => pieces.map(({ picture }) => picture?.rate ?? 0));
  const from = dirname(resolve(target));
  const list: EditList = {
    name: mixed.session.title,
    rate: mixed.session.picture?.rate ?? rateForClips(rates),
    tracks: [
      ...voices.map((voice) => pictureTrack(voice, span, from)).filter(({ clips }) => clips.length > 0),
      ...(await soundTracks(mixed, span, from, kind)),
    ],
  };
  const written = kind === 'otio' ? { text: otioText(list), notes: [] } : edlText(list);
  await writeWhole(target, (path) => writeFile(path, written.text), signal);
  return {
    format: 'partsong-edit-list',
    version: 1,
    file: target,
    clips: list.tracks.reduce((sum, { clips }) => sum + clips.length, 0),
    tracks: list.tracks.length,
    lengthSec: span.toSec - span.fromSec,
    notes: written.notes,
  };
}

function pictureTrack(voice: VoicePicture, span: SessionSpan, folder: string): ListedTrack {
  const clips = voice.pieces.flatMap(({ picture, place, fromSec, toSec }): ListedClip[] => {
    if (picture === null) return [];
    const first = Math.max(span.fromSec, fromSec, sessionSecOf(place, picture.startSec));
    const last = Math.min(span.toSec, toSec, sessionSecOf(place, picture.endSec));
    return evenStretches(place, first, last).map((stretch) => ({
      name: voice.name,
      path: pathFrom(folder, picture.file),
      fromSec: stretch.fromSec,
      fileSec: picture.endSec,
      rate: rateForClips([picture.rate]),
      atSec: stretch.atSec - span.fromSec,
      lengthSec: stretch.lengthSec,
      driftPpm: stretch.driftPpm,
    }));
  });
  return { name: voice.name, kind: 'Video', clips };
}

/** The mix, and for OTIO the stems too, which are as long as the mix and lie where it does. */
async function soundTracks(
  mixed: MixedSession,
  span: SessionSpan,
  folder: string,
  kind: EditListOptions['kind'],
): Promise<ListedTrack[]> {
  const files = [{ name: 'mix', path: mixed.mixPath }];
  if (kind === 'otio') {
    for (const voice of mixed.session.voices) {
      const take = soundingTake(mixed.session, voice);
      const stem = take === undefined ? undefined : mixed.report?.stems.get(take.name);
      if (stem === undefined) continue;
      const path = join(mixed.folder, stem);
      if ((await stat(path).catch(() => undefined)) !== undefined) files.push({ name: `${voice.name} (stem)`, path });
    }
  }
  return files.map(({ name, path }) => ({
    name,
    kind: 'Audio',
    clips: [
      {
        name,
        path: pathFrom(folder, path),
        fromSec: span.fromSec,
        fileSec: mixed.mix.lengthSec,
        rate: SOUND,
        atSec: 0,
        lengthSec: span.toSec - span.fromSec,
        driftPpm: 0,
      },
    ],
  }));
}

function pathFrom(folder: string, file: string): string {
  return relative(folder, file).split(sep).join('/');
}
