/** A word of the trade and what it means, in one or two plain sentences. */
export interface Explanation {
  readonly name: string;
  readonly text: string;
}

/** The words that screens explain on demand, by key. */
export const words = {
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
  passage: {
    name: 'Passage',
    text: 'A stretch of the piece in which a voice sounds with one of its takes. Where the next begins the two are joined: in a rest or before a note where there is one, with their levels matched. The takes themselves stay as they are.',
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
    text: 'A steady low tone from the mains (50 or 60 Hz and its multiples), from lamps, chargers or cables.',
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
  clap: {
    name: 'Clap',
    text: 'The clap (or any short loud sound) you made with the cue of the guide. It fixes the take in time.',
  },
  cue: { name: 'Cue', text: 'The moment in the guide at which you are asked to clap.' },
  guide: {
    name: 'Guide',
    text: 'What you heard in your headphones while recording: count-in, click, or a mock-up of the piece. All takes are placed in its time.',
  },
  take: { name: 'Take', text: 'One recorded clip of one voice. A voice may have several; one of them sounds.' },
  voice: { name: 'Voice', text: 'One part of the piece, such as soprano, second horn or bass.' },
  placement: {
    name: 'Placement',
    text: 'Where a take lies on the time line: when it begins, and how much faster or slower its clock ran.',
  },
  drift: {
    name: 'Drift',
    text: 'Two devices never count time at quite the same speed. Drift is how much faster this one ran; left alone, voices slide apart towards the end.',
  },
  ppm: {
    name: 'ppm',
    text: 'Parts in a million. 20 ppm are 20 thousandths of a millisecond a second: about 5 ms in 4 minutes.',
  },
  pin: {
    name: 'Pin',
    text: 'A moment of a take that you lay on its place by hand. One pin moves the take, two give the speed of its clock as well, more bend the clock where they are. What was found is kept: without pins the take goes back to it.',
  },
  offsetCurve: {
    name: 'Offset over time',
    text: 'Each sign is a moment at which the take was held against the guide or the other voices: how much later or earlier it would have the take than its place. Signs that stay near the line say that the take keeps in time to its end; a slope is a clock that runs off, a step is lost sound.',
  },
  residual: {
    name: 'Residual',
    text: 'The farthest that any moment of the take is thought to lie from its place, uncertainty included. From about 10 ms on, two attacks that should be one begin to be heard as two.',
  },
  offset: { name: 'Offset', text: 'The time on the session’s time line at which the take’s first sample sounds.' },
  confidence: {
    name: 'Confidence',
    text: 'How sure Partsong is of what it found, from 0 to 100 %. Where it is low, look and listen yourself.',
  },
  evidence: {
    name: 'Evidence',
    text: 'What a finding rests on: a clap, the guide heard in the recording, note beginnings.',
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
  exactTo: {
    name: 'Exact to',
    text: 'How exactly the place is known. Two voices that agree within 20 ms or so are heard together.',
  },
  masterGain: {
    name: 'Gain at the end',
    text: 'What the finished mix is turned up or down by to reach its target, after all voices are together.',
  },
  tuningTone: {
    name: 'Tone to tune to',
    text: 'An A that the guide holds before the cue, at the pitch that you choose. Tune to it before every take, so that all takes agree.',
  },
  referencePitch: {
    name: 'Reference pitch',
    text: 'How high the A above middle C sounds. 440 Hz is usual today; 415 Hz, about a half tone lower, is common for early music.',
  },
  cents: {
    name: 'Cents',
    text: 'A cent is a hundredth of a half tone. Trained ears hear some 6 cents in long notes; from 15 on Partsong speaks of a note.',
  },
  ownPitch: {
    name: 'Your A',
    text: 'The pitch your ensemble really plays by, told as its A: the mean of the middles of all voices. Notes are held against it unless you give another.',
  },
  pitchDrift: {
    name: 'Drift of the pitch',
    text: 'How far the pitch of all voices together sinks or rises from the beginning of the piece to its end.',
  },
  pitchSpread: {
    name: 'Spread of the pitch',
    text: 'How far the notes of a voice lie about its own middle as a rule. A small spread is steady; good choirs in unison have 10 to 15 cents.',
  },
  chordTuning: {
    name: 'Chords out of tune',
    text: 'Each interval of a chord is held against its size in equal temperament and its pure size, in which its tones do not beat. Anything between the two is in tune; what lies beyond is told, the worst first.',
  },
  mending: {
    name: 'Mending',
    text: 'Helping a take that is a little off: moving its pitch by some cents, following a pitch that sinks, or letting a stretch sound some ms earlier or later. It is done by reading the sound a little faster or slower and joining it where its waves are alike.',
  },
  earlyLate: {
    name: 'Early and late',
    text: 'How much later or earlier than meant a voice’s notes are heard to begin, as a rule. Below 20 ms or so nobody can tell which of two notes came first.',
  },
  together: {
    name: 'Keeping together',
    text: 'How far the beginnings of notes that belong together lie apart. Good ensembles have 30 to 50 ms, and it is not heard as uneven.',
  },
  temperament: {
    name: 'Temperament',
    text: 'How the twelve notes of the octave are tuned. Equal fits every key alike; mean-tone has pure major thirds, Pythagorean pure fifths, and just tuning pure chords on the key note.',
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
  tiling: {
    name: 'Tiling',
    text: 'How the clips lie beside one another on the canvas. It is computed from their shapes so that little is left empty and little is cut off; you can move each tile by hand afterwards.',
  },
  waste: {
    name: 'Left empty',
    text: 'Share of the canvas that no tile covers, where the background is seen.',
  },
  cropped: {
    name: 'Cut off',
    text: 'How much of the clips’ pictures is not seen, on average, because a tile has another shape than its clip.',
  },
  pictureRate: {
    name: 'Pictures a second',
    text: 'How often the picture changes. The rate of the fastest clip shows every picture there is. Clips whose pictures fall between each other’s keep nearer to their sound at a higher rate; left to itself, the rate is chosen so that no tile is more than 10 ms off.',
  },
  safeMargin: {
    name: 'Safe margin',
    text: 'Some screens hide the outermost part of a picture. Names and titles stay within 90 % of its width and height (EBU R 95).',
  },
} as const satisfies Readonly<Record<string, Explanation>>;

/** The key of a word that can be explained. */
export type Word = keyof typeof words;
