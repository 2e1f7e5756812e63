/** What a voice does in the piece: leads, fills, carries from below, or nothing that is known. */
export type BlendRole = 'lead' | 'inner' | 'bass' | 'free';

/**
 * How much louder than the common level a voice of a role is set, LU. Common practice, no source: the tune should stand
 * out a little, the filling voices stand back a little; 1 LU is about the least difference that is noticed in a mix.
 */
export const ROLE_OFFSET_LU: Readonly<Record<BlendRole, number>> = { lead: 2, inner: -1, bass: 0, free: 0 };

/** The blend moves no voice by more than this; what lies further apart is a question to the user. */
export const MOST_BLEND_DB = 18;

export interface BlendVoice {
  readonly name: string;
  readonly role: BlendRole;
  /** Gated loudness of the voice alone, LUFS; -Infinity when it is silent. */
  readonly integratedLufs: number;
}

export interface BlendChoice {
  /** Gain in the mix, -18 to 18 dB. */
  readonly gainDb: number;
  /** Why, one plain sentence. */
  readonly reason: string;
  /** False when the gain was held at its bound, or the voice is silent. */
  readonly reached: boolean;
}

/**
 * Gains that bring every voice to a common gated loudness plus its role's offset. The common level is the median of what
 * the voices bring, so that most move little; how loud the whole is gets settled in the mixdown, not here.
 */
export function blendVoices(voices: readonly BlendVoice[]): BlendChoice[] {
  const levels = voices
    .map((voice) => voice.integratedLufs - ROLE_OFFSET_LU[voice.role])
    .filter(Number.isFinite)
    .sort((a, b) => a - b);
  const common = medianOf(levels);
  return voices.map((voice) => chooseGain(voice, common));
}

function chooseGain(voice: BlendVoice, commonLufs: number): BlendChoice {
  if (!Number.isFinite(voice.integratedLufs)) {
    return {
      gainDb: 0,
      reason: `${voice.name} has no sound loud enough to measure, so it was left as it is.`,
      reached: false,
    };
  }
  const offsetLu = ROLE_OFFSET_LU[voice.role];
  const wanted = commonLufs + offsetLu - voice.integratedLufs;
  const gainDb = Math.max(-MOST_BLEND_DB, Math.min(MOST_BLEND_DB, wanted));
  const was = `${voice.name} was recorded at ${voice.integratedLufs.toFixed(1)} LUFS`;
  if (gainDb !== wanted) {
    const direction = wanted > 0 ? 'quieter' : 'louder';
    return {
      gainDb,
      reason: `${was}, much ${direction} than the others; it was moved by ${gainDb.toFixed(1)} dB and would need ${wanted.toFixed(1)} dB.`,
      reached: false,
    };
  }
  const aim = `${(commonLufs + offsetLu).toFixed(1)} LUFS`;
  const stands =
    offsetLu === 0
      ? ''
      : `, ${Math.abs(offsetLu)} LU ${offsetLu > 0 ? 'above' : 'below'} the common level as ${ROLE_WORDS[voice.role]}`;
  return { gainDb, reason: `${was} and is set to ${aim}${stands}.`, reached: true };
}

const ROLE_WORDS: Readonly<Record<BlendRole, string>> = {
  lead: 'the leading voice',
  inner: 'an inner voice',
  bass: 'the bass',
  free: 'a free voice',
};

function medianOf(sorted: readonly number[]): number {
  if (sorted.length === 0) return 0;
  const middle = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
