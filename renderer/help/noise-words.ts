import type { Explanation } from './words.ts';

/** The noise of the room, cleaning, and the sound check. */
export const noiseWords = {
  clipped: {
    name: 'Clipped',
    text: 'Places where the sound was too strong for the recorder and the tops of its waves are cut off, which is heard as crackle. Play softer or stand farther away next time.',
  },
  silence: {
    name: 'Silence',
    text: 'The stretch of a take in which nobody plays: the room alone. From it Partsong learns what noise to take out.',
  },
  noiseLevel: {
    name: 'Noise level',
    text: 'How strong the room and the recorder are when nobody plays. Lower is better.',
  },
  hum: {
    name: 'Hum',
    text: 'A steady low tone: from the mains (50 or 60 Hz and its multiples) by lamps, chargers or cables, or from a motor.',
  },
  whistle: {
    name: 'Whistle',
    text: 'A steady thin tone from electronics, at one pitch. It is taken out by itself, apart from the noise.',
  },
  musicalNoise: {
    name: 'Musical noise',
    text: 'Short random tones that chirp where noise was taken out too roughly. Gentle cleaning leaves a little even noise instead.',
  },
  character: {
    name: 'Character',
    text: 'How much cleaning dares: gentle leaves more of the room and touches the tone least, firm takes out most, even lies between.',
  },
  noiseReduced: {
    name: 'Noise lower by',
    text: 'How much weaker the noise in the silence is after cleaning. 10 dB less sounds about half as loud.',
  },
  harm: {
    name: 'Harm to the music',
    text: 'An estimate of how much of the music went away with the noise, compared with the music. The lower, the less; from about −28 dB up it may be heard.',
  },
  restored: {
    name: 'Restored samples',
    text: 'Where the recorder cut off the tops of waves, they were drawn anew from what lies around them. A second has 48 000 samples or so.',
  },
  backedOff: {
    name: 'Made gentler',
    text: 'Before a take is cleaned, its settings are tried on a few stretches of the music. If too much of it would be lost they are made gentler, at most twice.',
  },
  takenAway: {
    name: 'Before, after, taken away',
    text: 'Before is the take as recorded, after is what goes into the mix. Taken away is only what cleaning took out: you should hear the room there, and nothing of the music.',
  },
  reduction: {
    name: 'Most reduction',
    text: 'Where only the room is heard it is turned down by just this much, 0 to 60 dB. A little of the room left is more natural than none.',
  },
  steadiness: {
    name: 'Steadiness',
    text: 'How much each instant leans on those around it, 80 to 99 %. More is smoother; less follows quick notes sooner.',
  },
  margin: {
    name: 'Margin of the noise',
    text: 'By how much the noise is taken for stronger than it was learnt, −6 to 12 dB. More takes out more, also of soft notes.',
  },
  lineMargin: {
    name: 'Margin of hum and whistles',
    text: 'Steady tones may swell, so they are taken for stronger still, by 0 to 20 dB.',
  },
  gainRule: {
    name: 'Rule',
    text: 'The formula that tells from the strength of each pitch at each instant how much of it is music. All three come from the literature.',
  },
  spectrogram: {
    name: 'Spectrogram',
    text: 'A picture of sound: time runs to the right, pitch upwards, and the darker a spot (by night: the lighter), the louder. Steady noise is a veil, notes are lines.',
  },
  headroom: {
    name: 'Headroom',
    text: 'What is left above the loudest peak up to full scale. A few decibels keep an even louder note from being cut off.',
  },
  snr: {
    name: 'Music above noise',
    text: 'How far the music lies above the noise of the room, in decibels. Over 35 dB is clean; under 20 dB the noise is in the way.',
  },
  musicLevel: {
    name: 'Level of the music',
    text: 'The middle level of the louder half of what was played: not its peaks, but how strong it is as a rule.',
  },
  loudestPassage: {
    name: 'Loudest passage',
    text: 'The level of the loudest 0.4 seconds. For a sound check play the loudest passage of the piece.',
  },
  roomEcho: {
    name: 'Echo of the room',
    text: 'How long the room rings on after your clap until it has faded by 60 dB, estimated from the first part of its fall. Living rooms have 0.3 to 0.7 s.',
  },
  bleed: {
    name: 'Guide from the headphones',
    text: 'How much of the guide the phone hears from your headphones, measured on the clicks of the count-in.',
  },
  brightness: {
    name: 'Brightness',
    text: 'The middle of the spectrum: half above, half below, roughly. The higher, the brighter it sounds.',
  },
} as const satisfies Readonly<Record<string, Explanation>>;
