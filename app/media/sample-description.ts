/** Rate and channels of a sound as its file tells them; 0 where it does not. A decoder may know better. */
export interface ToldSound {
  readonly rateHz: number;
  readonly channels: number;
}

const NOTHING: ToldSound = { rateHz: 0, channels: 0 };
/** Rates by their number. Source: ISO/IEC 14496-3, 1.6.3.4, table of samplingFrequencyIndex. */
const RATES_HZ = [96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350];
/** AAC without anything that a decoder adds to it. */
const LOW_COMPLEXITY = 2;
const ES_DESCRIPTOR = 3;
const DECODER_CONFIG = 4;
const DECODER_SPECIFIC = 5;

/**
 * What the first entry of a sample description (the body of an `stsd` box) tells of its sound. Of AAC it stands in the decoder's own
 * configuration, since the entry's fields say two channels of any.
 * Source: ISO/IEC 14496-12, 12.2.3 (AudioSampleEntry); ISO/IEC 14496-14, 5.6 (esds). Throws RangeError where the box is cut off.
 */
export function toldSound(stsd: Buffer): ToldSound {
  // Behind 8 bytes of the table and 8 of the entry's own head.
  if (stsd.toString('latin1', 12, 16) === 'mp4a') return toldByDecoder(stsd);
  return { rateHz: stsd.readUInt16BE(40), channels: stsd.readUInt16BE(32) };
}

/** Source: ISO/IEC 14496-1, 7.2.6.5 to 7.2.6.7 (descriptors); ISO/IEC 14496-3, 1.6.2.1 (AudioSpecificConfig). */
function toldByDecoder(stsd: Buffer): ToldSound {
  const box = stsd.indexOf('esds', 16, 'latin1');
  if (box < 0) return NOTHING;
  let at = box + 8;
  for (const [tag, headBytes] of [
    [ES_DESCRIPTOR, 3],
    [DECODER_CONFIG, 13],
    [DECODER_SPECIFIC, 0],
  ] as const) {
    if (stsd.readUInt8(at++) !== tag) return NOTHING;
    // A length goes on as long as its upper bit is set.
    while (stsd.readUInt8(at++) >= 0x80);
    at += headBytes;
  }
  const bits = stsd.readUInt16BE(at);
  const rateHz = RATES_HZ[(bits >> 7) & 15];
  const configuration = (bits >> 3) & 15;
  if (bits >> 11 !== LOW_COMPLEXITY || rateHz === undefined || configuration < 1 || configuration > 6) return NOTHING;
  return { rateHz, channels: configuration };
}
