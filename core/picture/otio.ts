import type { EditList, ListedClip, ListedTrack } from './edit-list.ts';
import { perSecond } from './picture-rate.ts';

/** Sound is counted in samples, so that nothing is lost below a picture. */
const SOUND_RATE = 48000;
/** A clock that is this much off shifts by half a picture of 30 in 15 minutes, ppm. */
const WORTH_WARPING_PPM = 0.5;

/**
 * An edit list as OpenTimelineIO JSON. Source: the open specification of the Academy Software Foundation: Timeline.1,
 * Stack.1, Track.1, Clip.2, Gap.1, ExternalReference.1, TimeRange.1, RationalTime.1, LinearTimeWarp.1. Paths are relative
 * to the list, as URLs. Drift is a linear time warp.
 */
export function otioText(list: EditList): string {
  const timeline = {
    OTIO_SCHEMA: 'Timeline.1',
    metadata: {},
    name: list.name,
    global_start_time: null,
    tracks: {
      ...item('Stack.1', 'tracks'),
      children: list.tracks.map((track) => trackOf(track, list)),
    },
  };
  return `${JSON.stringify(timeline, undefined, 4)}\n`;
}

function item(schema: string, name: string): Record<string, unknown> {
  return { OTIO_SCHEMA: schema, metadata: {}, name, source_range: null, effects: [], markers: [], enabled: true };
}

function trackOf(track: ListedTrack, list: EditList): Record<string, unknown> {
  const rate = track.kind === 'Audio' ? SOUND_RATE : perSecond(list.rate);
  const children: Record<string, unknown>[] = [];
  let at = 0;
  for (const clip of track.clips) {
    // Rounded on the time line itself, so that gaps and lengths do not add up their rounding.
    const from = Math.round(clip.atSec * rate);
    const until = Math.round((clip.atSec + clip.lengthSec) * rate);
    if (from > at) children.push({ ...item('Gap.1', ''), source_range: range(0, from - at, rate) });
    children.push(clipOf(clip, track.kind, (until - from) / rate));
    at = until;
  }
  return { ...item('Track.1', track.name), kind: track.kind, children };
}

function clipOf(clip: ListedClip, kind: ListedTrack['kind'], lengthSec: number): Record<string, unknown> {
  const rate = kind === 'Audio' ? SOUND_RATE : perSecond(clip.rate);
  const warp = {
    OTIO_SCHEMA: 'LinearTimeWarp.1',
    metadata: {},
    name: 'clock',
    effect_name: 'LinearTimeWarp',
    time_scalar: 1 + clip.driftPpm * 1e-6,
    enabled: true,
  };
  return {
    ...item('Clip.2', clip.name),
    source_range: range(clip.fromSec * rate, lengthSec * rate, rate),
    effects: Math.abs(clip.driftPpm) < WORTH_WARPING_PPM ? [] : [warp],
    media_references: {
      DEFAULT_MEDIA: {
        OTIO_SCHEMA: 'ExternalReference.1',
        metadata: {},
        name: clip.name,
        available_range: range(0, clip.fileSec * rate, rate),
        available_image_bounds: null,
        target_url: urlOf(clip.path),
      },
    },
    active_media_reference_key: 'DEFAULT_MEDIA',
  };
}

function range(start: number, duration: number, rate: number): Record<string, unknown> {
  return { OTIO_SCHEMA: 'TimeRange.1', start_time: time(start, rate), duration: time(duration, rate) };
}

/** Values may lie between pictures: the offset of a take is finer than they are. */
function time(value: number, rate: number): Record<string, unknown> {
  return { OTIO_SCHEMA: 'RationalTime.1', rate, value: Math.round(value * 1000) / 1000 };
}

/** A relative URL (RFC 3986); on another disk of Windows a file URL. */
function urlOf(path: string): string {
  const encoded = path.split('/').map(encodeURIComponent).join('/');
  if (/^[A-Za-z]:\//.test(path)) return `file:///${path.slice(0, 2)}${encoded.slice(encoded.indexOf('/'))}`;
  return path.startsWith('/') ? `file://${encoded}` : encoded;
}
