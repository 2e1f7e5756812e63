/** What one FFmpeg lists: names of its decoders, encoders, filters. */
export interface FfmpegParts {
  readonly decoders: ReadonlySet<string>;
  readonly encoders: ReadonlySet<string>;
  readonly filters: ReadonlySet<string>;
}

/** One thing that Partsong asks of an FFmpeg, any one of `names`, and what is not possible without it. */
interface Need {
  readonly list: keyof FfmpegParts;
  readonly names: readonly string[];
  readonly sentence: string;
}

const NEEDS: readonly Need[] = [
  { list: 'decoders', names: ['aac'], sentence: 'a decoder for AAC: most phone clips cannot be read' },
  { list: 'decoders', names: ['alac'], sentence: 'a decoder for ALAC: lossless clips of iPhones cannot be read' },
  {
    list: 'decoders',
    names: ['pcm_s16le'],
    sentence: 'a decoder for PCM: clips with uncompressed sound cannot be read',
  },
  { list: 'decoders', names: ['flac'], sentence: 'a decoder for FLAC: .flac clips cannot be read' },
  { list: 'decoders', names: ['mp3', 'mp3float'], sentence: 'a decoder for MP3: .mp3 clips cannot be read' },
  { list: 'decoders', names: ['opus', 'libopus'], sentence: 'a decoder for Opus: .opus clips cannot be read' },
  { list: 'decoders', names: ['vorbis', 'libvorbis'], sentence: 'a decoder for Vorbis: .ogg clips cannot be read' },
  {
    list: 'decoders',
    names: ['amrnb', 'libopencore_amrnb'],
    sentence: 'a decoder for AMR: some .3gp clips cannot be read',
  },
  { list: 'decoders', names: ['h264'], sentence: 'a decoder for H.264: the picture of most clips cannot be shown' },
  {
    list: 'decoders',
    names: ['hevc'],
    sentence: 'a decoder for HEVC: the picture of newer phone clips cannot be shown',
  },
  { list: 'encoders', names: ['pcm_f32le'], sentence: 'an encoder for plain samples: no clip can be read' },
  { list: 'encoders', names: ['aac'], sentence: 'an encoder for AAC: no .m4a and no sound for video can be written' },
  { list: 'encoders', names: ['flac'], sentence: 'an encoder for FLAC: no .flac can be written' },
  { list: 'encoders', names: ['libmp3lame'], sentence: 'an encoder for MP3 (libmp3lame): no .mp3 can be written' },
  { list: 'encoders', names: ['libx264'], sentence: 'an encoder for H.264 (libx264): no video can be written' },
  { list: 'filters', names: ['aformat'], sentence: 'the filter aformat: no clip can be read' },
  { list: 'filters', names: ['asettb'], sentence: 'the filter asettb: no clip can be read' },
  { list: 'filters', names: ['aselect'], sentence: 'the filter aselect: no clip can be read' },
  { list: 'filters', names: ['scale'], sentence: 'the filter scale: no tiles can be drawn' },
  { list: 'filters', names: ['overlay'], sentence: 'the filter overlay: no canvas can be put together' },
  { list: 'filters', names: ['tpad'], sentence: 'the filter tpad: no video can be made' },
  { list: 'filters', names: ['xstack'], sentence: 'the filter xstack: no video can be made of tiles' },
  { list: 'filters', names: ['zscale'], sentence: 'the filter zscale: clips of high dynamic range will look pale' },
  { list: 'filters', names: ['tonemap'], sentence: 'the filter tonemap: clips of high dynamic range will look pale' },
  { list: 'filters', names: ['fps'], sentence: 'the filter fps: clips of uneven picture rate cannot be put together' },
];

/** What is missing, a sentence each. */
export function lacksOf(parts: FfmpegParts): string[] {
  return NEEDS.filter((need) => !need.names.some((name) => parts[need.list].has(name))).map((need) => need.sentence);
}

/**
 * Names in a list that FFmpeg prints (`-decoders`, `-encoders`, `-filters`): on each line flags, a name, a description.
 */
export function namesIn(listing: string): Set<string> {
  const names = new Set<string>();
  for (const [, name] of listing.matchAll(/^ [A-Z.|]{2,6} ([\w-]+)\s/gm)) names.add(name!);
  return names;
}

/** The year or number of a version in plain words: is it older than FFmpeg 4.3 (2020)? Unknown versions are not. */
export function isOld(version: string): boolean {
  const release = /^n?(\d+)\.(\d+)/.exec(version);
  if (release !== null) return Number(release[1]) < 4 || (Number(release[1]) === 4 && Number(release[2]) < 3);
  // Builds from the repository count their commits; release 4.3 was number 98 000 or so.
  const build = /^N-(\d+)-/.exec(version);
  return build !== null && Number(build[1]) < 98_000;
}
