import type { Explanation } from './words.ts';

/** Takes and their places in time, pitch and timing. */
export const playingWords = {
  guide: {
    name: 'Guide',
    text: 'What you heard in your headphones while recording: count-in, click, or a mock-up of the piece. All takes are placed in its time.',
  },
  take: { name: 'Take', text: 'One recorded clip of one voice. A voice may have several; one of them sounds.' },
  voice: { name: 'Voice', text: 'One part of the piece, such as soprano, second horn or bass.' },
  passage: {
    name: 'Passage',
    text: 'A stretch of the piece in which a voice sounds with one of its takes. Where the next begins the two are joined: in a rest or before a note where there is one, with their levels matched. The takes themselves stay as they are.',
  },
  clap: {
    name: 'Clap',
    text: 'The clap (or any short loud sound) you made with the cue of the guide. It fixes the take in time.',
  },
  cue: { name: 'Cue', text: 'The moment in the guide at which you are asked to clap.' },
  tuningTone: {
    name: 'Tone to tune to',
    text: 'An A that the guide holds before the cue, at the pitch that you choose. Tune to it before every take, so that all takes agree.',
  },
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
  exactTo: {
    name: 'Exact to',
    text: 'How exactly the place is known. Two voices that agree within 20 ms or so are heard together.',
  },
  confidence: {
    name: 'Confidence',
    text: 'How sure Partsong is of what it found, from 0 to 100 %. Where it is low, look and listen yourself.',
  },
  evidence: {
    name: 'Evidence',
    text: 'What a finding rests on: a clap, the guide heard in the recording, note beginnings.',
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
} as const satisfies Readonly<Record<string, Explanation>>;
