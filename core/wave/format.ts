/** How one sample lies in a WAVE file. All are little endian; u8 is unsigned with 128 as zero. */
export type SampleFormat = 'u8' | 'pcm16' | 'pcm24' | 'pcm32' | 'float32' | 'float64';

/** The formats that Partsong writes. */
export type WrittenFormat = Extract<SampleFormat, 'pcm16' | 'pcm24' | 'float32'>;

/** Bytes that one sample takes. */
export const BYTES_PER_SAMPLE: Readonly<Record<SampleFormat, number>> = {
  u8: 1,
  pcm16: 2,
  pcm24: 3,
  pcm32: 4,
  float32: 4,
  float64: 8,
};

/** Format tags of the fmt chunk (RFC 2361, Appendix A; Microsoft, "Multiple channel audio data and WAVE files"). */
export const TAG_PCM = 0x0001;
export const TAG_FLOAT = 0x0003;
export const TAG_EXTENSIBLE = 0xfffe;

/** Bytes 2 to 15 of the sub-format GUID that stands for a plain format tag (its first two bytes are the tag). */
export const SUBFORMAT_TAIL: readonly number[] = [
  0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xaa, 0x00, 0x38, 0x9b, 0x71,
];

/** What a 32-bit size says when the true one is in ds64, or is not known. */
export const SIZE_ELSEWHERE = 0xffffffff;

/** Body of a ds64 chunk without a table (EBU Tech 3306), and so of the JUNK chunk that keeps its place. */
export const DS64_BYTES = 28;

/**
 * The fields of a bext chunk that Partsong uses (EBU Tech 3285 v2). Texts are ASCII; what does not fit is cut.
 * Loudness fields are written when given, else marked as not used.
 */
export interface BextFields {
  /** First sample's time since midnight (here: since the session's time zero), frames. */
  readonly timeReferenceFrames: number;
  /** Up to 256 characters. */
  readonly description?: string;
  /** Up to 32 characters. */
  readonly originator?: string;
  /** yyyy-mm-dd. */
  readonly date?: string;
  /** hh:mm:ss. */
  readonly time?: string;
  readonly loudness?: BextLoudness;
}

/** Loudness fields of bext version 2, each absent where it is not known. Stored in hundredths, so to 0.01. */
export interface BextLoudness {
  readonly integratedLufs?: number;
  readonly rangeLu?: number;
  readonly truePeakDbtp?: number;
  readonly momentaryMaxLufs?: number;
  readonly shortTermMaxLufs?: number;
}

/** Body of a bext chunk without coding history. */
export const BEXT_FIXED_BYTES = 602;
/** Places inside the body of a bext chunk. */
export const BEXT_OFFSET = {
  description: 0,
  originator: 256,
  date: 320,
  time: 330,
  timeReference: 338,
  version: 346,
  loudness: 412,
} as const;
/** The loudness fields of bext version 2 in their order (EBU Tech 3285 v2, section 2.4). */
export const BEXT_LOUDNESS_FIELDS = [
  'integratedLufs',
  'rangeLu',
  'truePeakDbtp',
  'momentaryMaxLufs',
  'shortTermMaxLufs',
] as const satisfies readonly (keyof BextLoudness)[];
/** What a bext loudness field says when it is not used (EBU Tech 3285 v2, section 2.4). */
export const BEXT_LOUDNESS_UNUSED = 0x7fff;
