/**
 * The caution that stands wherever a guide is made or printed. Levels and times of the WHO-ITU global standard for safe
 * listening, H.870: 80 dBA for 40 hours a week, and half the time for each 3 dB more (equal energy).
 */
export const SAFE_LISTENING =
  'Play the guide softly: the WHO-ITU standard for safe listening (H.870) allows adults 40 hours a week at 80 dBA and half of that for every 3 dB more, so at 95 dBA little over one hour a week; start low, raise it only until you hear the beat, and ask a doctor where your ears ring.';
