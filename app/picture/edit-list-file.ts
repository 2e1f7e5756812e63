import { stat, writeFile } from 'node:fs/promises';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { type EditList, evenStretches, type ListedClip, type ListedTrack } from '../../core/picture/edit-list.ts';
import { edlText } from '../../core/picture/edl.ts';
import { otioText } from '../../core/picture/otio.ts';
import type { SessionSpan } from '../../core/picture/picture-design.ts';
import type { VoicePicture } from '../../core/picture/picture-plan.ts';
import { type PictureRate, rateForClips } from '../../core/picture/picture-rate.ts';
import { seenStretches } from '../../core/picture/tile-path.ts';
import { soundingTake } from '../../core/session/passages.ts';
import { designOf } from '../../core/session/picture-choice.ts';
import { sessionPictures } from '../../core/session/voice-pictures.ts';
import { sessionSecOf } from '../../core/signal/clock.ts';
import { refuseTargets } from '../desk/source-guard.ts';
import { writeWhole } from '../media/whole-file.ts';
import { type MixedSession, pictureOfTake, readMixedSession, type SeenTake, takesSeen } from './session-pictures.ts';
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
  const takes = await takesSeen(mixed, signal);
  await refuseTargets([target], [mixed.mixPath, ...[...takes.values()].map(({ clipPath }) => clipPath)]);
  const from = dirname(resolve(target));
  const nameOf = (file: string): string => relative(from, file).split(sep).join('/');
  const made = await editListOf({ mixed, takes, span: spanOf(options.trim, mixed), kind, nameOf });
  await writeWhole(target, (path) => writeFile(path, made.text), signal);
  return { format: 'partsong-edit-list', version: 1, file: target, ...made.facts };
}

/** What an edit list is made from. nameOf: how the list names a file. */
export interface ListSources {
  readonly mixed: MixedSession;
  readonly takes: ReadonlyMap<string, SeenTake>;
  readonly span: SessionSpan;
  readonly kind: EditListOptions['kind'];
  readonly nameOf: (file: string) => string;
}

/** An edit list, and what it holds. */
export interface MadeList {
  readonly text: string;
  readonly facts: Pick<EditListReport, 'clips' | 'tracks' | 'lengthSec' | 'notes'>;
}

/** The lined-up clips as an edit list; nothing is written. */
export async function editListOf(sources: ListSources): Promise<MadeList> {
  const { mixed, takes, span, kind } = sources;
  const { voices } = sessionPictures(mixed.session, span, pictureOfTake(takes));
  const rates = voices.flatMap(({ pieces }) => pieces.map(({ picture }) => picture?.rate ?? 0));
  const list: EditList = {
    name: mixed.session.title,
    rate: mixed.session.picture?.rate ?? rateForClips(rates),
    tracks: [
      ...voices.map((voice) => pictureTrack(voice, sources)).filter(({ clips }) => clips.length > 0),
      ...(await soundTracks(sources)),
    ],
  };
  const written = kind === 'otio' ? { text: otioText(list), notes: [] } : edlText(list);
  const clips = list.tracks.reduce((sum, track) => sum + track.clips.length, 0);
  const hasMoments = mixed.session.picture?.tiles.some(({ moments = [] }) => moments.some(({ as }) => as !== 'away'));
  const notes = hasMoments
    ? ['When tiles come and go is in the list; that they grow is not: edit lists have no tiles.', ...written.notes]
    : written.notes;
  return {
    text: written.text,
    facts: { clips, tracks: list.tracks.length, lengthSec: span.toSec - span.fromSec, notes },
  };
}

/** The stretches in which a voice's tile is seen, as it was settled. */
function seenOf({ session }: MixedSession, voiceId: string): readonly SessionSpan[] {
  const [tile] = session.picture === null ? [] : designOf(session.picture, [voiceId]).tiles;
  const always = { fromSec: Number.NEGATIVE_INFINITY, toSec: Number.POSITIVE_INFINITY };
  return (tile === undefined ? null : seenStretches(tile)) ?? [always];
}

function pictureTrack(voice: VoicePicture, { mixed, span, nameOf }: ListSources): ListedTrack {
  const seen = seenOf(mixed, voice.voiceId);
  const clips = voice.pieces.flatMap(({ picture, place, fromSec, toSec }): ListedClip[] => {
    if (picture === null) return [];
    const first = Math.max(span.fromSec, fromSec, sessionSecOf(place, picture.startSec));
    const last = Math.min(span.toSec, toSec, sessionSecOf(place, picture.endSec));
    const shown = seen
      .map((one) => ({ fromSec: Math.max(first, one.fromSec), toSec: Math.min(last, one.toSec) }))
      .filter((one) => one.toSec > one.fromSec);
    return shown
      .flatMap((one) => evenStretches(place, one.fromSec, one.toSec))
      .map((stretch) => ({
        name: voice.name,
        path: nameOf(picture.file),
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
async function soundTracks(sources: ListSources): Promise<ListedTrack[]> {
  const { mixed, span, nameOf } = sources;
  const files = await soundFiles(mixed, sources.kind);
  return files.map(({ name, path }) => ({
    name,
    kind: 'Audio',
    clips: [
      {
        name,
        path: nameOf(path),
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

/** The sound files that a list of a kind names: the mix, and for OTIO the stems that are there. */
export async function soundFiles(
  mixed: MixedSession,
  kind: EditListOptions['kind'],
): Promise<{ readonly name: string; readonly path: string }[]> {
  const files = [{ name: 'mix', path: mixed.mixPath }];
  if (kind !== 'otio') return files;
  for (const voice of mixed.session.voices) {
    const take = soundingTake(mixed.session, voice);
    const stem = take === undefined ? undefined : mixed.report?.stems.get(take.name);
    if (stem === undefined) continue;
    const path = join(mixed.folder, stem);
    if ((await stat(path).catch(() => undefined)) !== undefined) files.push({ name: `${voice.name} (stem)`, path });
  }
  return files;
}
