import type { Explanation } from './words.ts';

/** Levels and loudness, the mix and its files. */
export const loudnessWords = {
  lufs: {
    name: 'LUFS',
    text: 'Loudness as the ear judges it, measured by an international standard (ITU-R BS.1770). 0 is the loudest a file could be; music is usually between −24 and −10. One more is one decibel louder.',
  },
  lu: {
    name: 'LU',
    text: 'Loudness unit: a difference between two loudnesses. 1 LU is 1 decibel; most people just notice 1 LU.',
  },
  db: {
    name: 'dB',
    text: 'Decibel: how many times stronger or weaker. +6 dB doubles the size of the wave, −6 dB halves it, 0 dB leaves it.',
  },
  dbfs: {
    name: 'dBFS',
    text: 'Level below full scale: 0 is the largest number the file can hold, so levels are negative. At 0 the tops of waves are cut off.',
  },
  dbtp: {
    name: 'dBTP',
    text: 'True peak: the highest point of the wave itself, which can lie between two stored samples and above both. 0 is full scale.',
  },
  truePeak: {
    name: 'True peak',
    text: 'The highest point of the wave, also between the stored samples. If it passes 0 dBTP, a player or an encoder may distort it.',
  },
  peak: {
    name: 'Peak',
    text: 'The largest sample of the recording. Close to 0 dBFS there was little room left; at 0 the recorder probably cut something off.',
  },
  ceiling: {
    name: 'Ceiling',
    text: 'The true peak that the mix never passes. A little room below 0 keeps encoders and players from distorting.',
  },
  target: {
    name: 'Target',
    text: 'The loudness the whole mix is brought to. Sites that play music at one loudness turn down what is louder, so louder than that gains nothing.',
  },
  integrated: {
    name: 'Loudness of the whole',
    text: 'The loudness from the first note to the last, with pauses left out (integrated loudness, BS.1770).',
  },
  shortTerm: {
    name: 'Short-term loudness',
    text: 'The loudness of the last 3 seconds: how loud a phrase is.',
  },
  momentary: {
    name: 'Momentary loudness',
    text: 'The loudness of the last 0.4 seconds: how loud it is just now.',
  },
  range: {
    name: 'Loudness range',
    text: 'How far the soft passages lie below the loud ones, leaving out the extremes (EBU Tech 3342). Small is even, large is lively.',
  },
  limiter: {
    name: 'Limiter',
    text: 'It turns the mix down for an instant where a peak would pass the ceiling. A few dB now and then is not heard; much more flattens the attacks.',
  },
  role: {
    name: 'Role',
    text: 'What a voice does in the piece: lead stands out a little, inner voices lie below it, bass carries; free is left at the common level.',
  },
  place: {
    name: 'Place',
    text: 'Where a voice stands on the stage before the listener, in degrees to the left or to the right of the middle.',
  },
  gain: {
    name: 'Gain',
    text: 'How much a voice is made louder (+) or softer (−) for the mix, in decibels. The recording itself stays as it is.',
  },
  fineMove: { name: 'Fine move', text: 'Your own change of a voice’s gain, on top of what the blend found.' },
  strip: {
    name: 'Strip',
    text: 'What a voice passes on its way to the mix: low cut, gain and its place on the stage.',
  },
  masterGain: {
    name: 'Gain at the end',
    text: 'What the finished mix is turned up or down by to reach its target, after all voices are together.',
  },
  stems: {
    name: 'Stems',
    text: 'One file for each voice as it goes into the mix, all starting together: for someone who wants to mix further.',
  },
  bits: {
    name: 'Bits',
    text: 'How finely each sample is stored. 24 bit is more than any ear needs, 16 bit is the size of a CD, float never runs out of room.',
  },
  m4a: {
    name: 'M4A',
    text: 'A small file with AAC sound, about a sixth of the WAV’s size, which nearly everything plays. Some detail is given up that is hardly heard.',
  },
  flac: { name: 'FLAC', text: 'About half the size of a WAV with exactly the same sound. Most programs play it.' },
  mp3: { name: 'MP3', text: 'A small file that everything plays, with a little more loss than M4A.' },
  codec: {
    name: 'Codec',
    text: 'The way the sound is packed into the file, such as AAC (phones) or PCM (not packed at all).',
  },
  sampleRate: {
    name: 'Sample rate',
    text: 'How many times a second the wave was measured, in kHz. Partsong works at 48 kHz and converts what is different.',
  },
} as const satisfies Readonly<Record<string, Explanation>>;
