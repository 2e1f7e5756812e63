import { endingNumbers, soundOfWords, withRepeat, withSoundSigns } from './musicxml-signs.ts';
import { type BarSigns, plainBar } from './play-order.ts';
import { child, childNumber, childText, type XmlElement } from './xml-element.ts';

/** A note as it is written, positions in quarters from the beginning of its bar. */
export interface WrittenNote {
  readonly atQuarters: number;
  readonly lengthQuarters: number;
  readonly key: number;
  readonly loudness: number;
  readonly tiedFrom: boolean;
  readonly tiedTo: boolean;
  readonly fermata: boolean;
}

/** A bar of one part as it is written. */
export interface WrittenBar {
  readonly notes: readonly WrittenNote[];
  /** How far notes and rests reach. */
  readonly filledQuarters: number;
  readonly metre: { readonly beats: number; readonly unit: number; readonly groups: readonly number[] | null };
  readonly implicit: boolean;
  readonly tempo: readonly { readonly atQuarters: number; readonly quartersPerMinute: number }[];
  readonly signs: BarSigns;
}

/** Each grace note lasts this long and ends where its main note begins, so that the beat stays where the click is. */
export const GRACE_QUARTERS = 1 / 8;

/** Loudness of the dynamic marks, 0 to 1, even steps around mf. Our own choice, no source. */
const DYNAMICS: Readonly<Record<string, number>> = {
  pppp: 0.15,
  ppp: 0.22,
  pp: 0.32,
  p: 0.43,
  mp: 0.54,
  mf: 0.65,
  f: 0.77,
  ff: 0.88,
  fff: 0.96,
  ffff: 1,
  sf: 0.82,
  sfz: 0.85,
  fp: 0.6,
  fz: 0.82,
};

const STEPS: Readonly<Record<string, number>> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const BEAT_UNITS: Readonly<Record<string, number>> = {
  breve: 8,
  whole: 4,
  half: 2,
  quarter: 1,
  eighth: 1 / 2,
  '16th': 1 / 4,
  '32nd': 1 / 8,
  '64th': 1 / 16,
};
/** `sound dynamics` is a percentage of a MIDI velocity of 90. Source: MusicXML 4.0, element sound. */
const FORTE_VELOCITY = 90;

/** Longer than any note or rest of any piece, quarters. */
const LONGEST_QUARTERS = 256;

/** Reads the bars of a `part` one after the other (MusicXML 4.0, partwise). `told` collects what was left out. */
export class PartReader {
  readonly #told: Set<string>;
  #divisions = 1;
  #transpose = 0;
  #loudness = DYNAMICS['mf']!;
  #metre: WrittenBar['metre'] = { beats: 4, unit: 4, groups: null };
  #ending: readonly number[] | null = null;

  constructor(told: Set<string>) {
    this.#told = told;
  }

  read(measure: XmlElement): WrittenBar {
    const notes: WrittenNote[] = [];
    const tempo: { atQuarters: number; quartersPerMinute: number }[] = [];
    let signs = plainBar;
    let at = 0;
    let filled = 0;
    let chordAt = 0;
    let graces: XmlElement[] = [];
    let endingStops = false;
    for (const element of measure.children) {
      switch (element.name) {
        case 'attributes':
          this.#takeAttributes(element);
          break;
        case 'backup':
          this.#addGraces(graces, at, notes);
          graces = [];
          at = Math.max(0, at - this.#quarters(childNumber(element, 'duration')));
          break;
        case 'forward':
          at += this.#quarters(childNumber(element, 'duration'));
          filled = Math.max(filled, at);
          break;
        case 'note': {
          if (child(element, 'grace') !== undefined) {
            graces.push(element);
            break;
          }
          const isChord = child(element, 'chord') !== undefined;
          const length = this.#quarters(childNumber(element, 'duration'));
          const from = isChord ? chordAt : at;
          if (!isChord) {
            this.#addGraces(graces, from, notes);
            graces = [];
          }
          this.#addNote(element, from, length, notes);
          chordAt = from;
          if (!isChord) at += length;
          filled = Math.max(filled, at);
          break;
        }
        case 'direction':
          this.#takeDirection(element, at, tempo);
          signs = withSoundSigns(signs, child(element, 'sound') ?? soundOfWords(element, this.#told));
          break;
        case 'sound':
          this.#takeSound(element, at, tempo);
          signs = withSoundSigns(signs, element);
          break;
        case 'barline': {
          const ending = child(element, 'ending');
          if (ending?.attributes['type'] === 'start') this.#ending = endingNumbers(ending);
          else if (ending !== undefined) endingStops = true;
          signs = withRepeat(signs, child(element, 'repeat'));
        }
      }
    }
    // Grace notes with no note after them are those that end a trill: they end with the bar.
    this.#addGraces(graces, at, notes);
    const bar = {
      notes,
      filledQuarters: filled,
      metre: this.#metre,
      implicit: measure.attributes['implicit'] === 'yes',
      tempo,
      signs: { ...signs, ending: this.#ending },
    };
    if (endingStops) this.#ending = null;
    return bar;
  }

  #quarters(duration: number | undefined): number {
    const quarters = Math.max(0, duration ?? 0) / this.#divisions;
    if (quarters > LONGEST_QUARTERS) throw new RangeError(`a note lasts ${quarters} quarters`);
    return quarters;
  }

  #takeAttributes(element: XmlElement): void {
    const divisions = childNumber(element, 'divisions');
    if (divisions !== undefined && divisions > 0) this.#divisions = divisions;
    const transpose = child(element, 'transpose');
    if (transpose !== undefined) {
      this.#transpose =
        (childNumber(transpose, 'chromatic') ?? 0) + 12 * (childNumber(transpose, 'octave-change') ?? 0);
    }
    const time = child(element, 'time');
    if (time === undefined) return;
    const { groups, unit } = metreOf(time);
    const beats = groups.reduce((sum, one) => sum + one, 0);
    if (!Number.isInteger(beats) || beats < 1 || beats > 64 || ![1, 2, 4, 8, 16, 32].includes(unit)) {
      this.#told.add('A free or unusual metre was read as the one before it.');
      return;
    }
    this.#metre = { beats, unit, groups: groups.length > 1 ? groups : null };
  }

  #addGraces(graces: readonly XmlElement[], before: number, notes: WrittenNote[]): void {
    const isOwn = (grace: XmlElement): boolean => child(grace, 'chord') === undefined;
    let left = graces.filter((grace, index) => index === 0 || isOwn(grace)).length;
    for (const [index, grace] of graces.entries()) {
      if (index > 0 && isOwn(grace)) left--;
      this.#addNote(grace, before - left * GRACE_QUARTERS, GRACE_QUARTERS, notes);
    }
  }

  #addNote(element: XmlElement, atQuarters: number, lengthQuarters: number, notes: WrittenNote[]): void {
    if (child(element, 'rest') !== undefined || child(element, 'cue') !== undefined) return;
    const pitch = child(element, 'pitch');
    if (pitch === undefined) {
      this.#told.add('Notes without pitch were left out.');
      return;
    }
    const step = STEPS[(childText(pitch, 'step') ?? '').toUpperCase()];
    const octave = childNumber(pitch, 'octave');
    if (step === undefined || octave === undefined || lengthQuarters <= 0) {
      this.#told.add('A note without step, octave or length was left out.');
      return;
    }
    const key = 12 * (octave + 1) + step + (childNumber(pitch, 'alter') ?? 0) + this.#transpose;
    if (!(key >= 0 && key <= 127)) {
      this.#told.add('Notes higher or lower than any instrument were left out.');
      return;
    }
    const ties = element.children.filter((one) => one.name === 'tie').map((one) => one.attributes['type']);
    const notations = element.children.filter((one) => one.name === 'notations');
    const own = Number(element.attributes['dynamics']);
    notes.push({
      atQuarters,
      lengthQuarters,
      key,
      loudness: Number.isFinite(own) ? asLoudness(own) : this.#loudness,
      tiedFrom: ties.includes('stop'),
      tiedTo: ties.includes('start'),
      fermata: notations.some((one) => child(one, 'fermata') !== undefined),
    });
  }

  #takeDirection(element: XmlElement, at: number, tempo: { atQuarters: number; quartersPerMinute: number }[]): void {
    const offset = child(element, 'offset');
    const soundAt = offset?.attributes['sound'] === 'yes' ? at + Number(offset.text) / this.#divisions : at;
    const sound = child(element, 'sound');
    const types = element.children.filter((one) => one.name === 'direction-type').flatMap((one) => one.children);
    for (const type of types) {
      const mark = type.name === 'dynamics' ? type.children[0]?.name : undefined;
      if (mark !== undefined && DYNAMICS[mark] !== undefined) this.#loudness = DYNAMICS[mark];
      if (type.name === 'words' && /^(rit|rall|accel|string)/i.test(type.text)) {
        this.#told.add(`"${type.text.slice(0, 40)}" has no figures in the file, so the tempo stays there.`);
      }
    }
    const before = tempo.length;
    if (sound !== undefined) this.#takeSound(sound, soundAt, tempo);
    if (tempo.length > before) return;
    const metronome = types.find((one) => one.name === 'metronome');
    const quartersPerMinute = metronome === undefined ? undefined : metronomeTempo(metronome);
    if (quartersPerMinute !== undefined) addTempo(tempo, at, quartersPerMinute);
  }

  #takeSound(sound: XmlElement, at: number, tempo: { atQuarters: number; quartersPerMinute: number }[]): void {
    const quartersPerMinute = Number(sound.attributes['tempo']);
    if (quartersPerMinute > 0) addTempo(tempo, at, quartersPerMinute);
    const dynamics = Number(sound.attributes['dynamics']);
    if (sound.attributes['dynamics'] !== undefined && Number.isFinite(dynamics)) this.#loudness = asLoudness(dynamics);
  }
}

/** A metre with its groups; of several beat types (3/8 + 2/4) all are counted in the shortest. */
function metreOf(time: XmlElement): { groups: number[]; unit: number } {
  const units = time.children.filter((one) => one.name === 'beat-type').map((one) => Number(one.text));
  const unit = Math.max(...units, units.length === 0 ? 4 : 1);
  const groups = time.children
    .filter((one) => one.name === 'beats')
    .flatMap((one, index) => one.text.split('+').map((beats) => (Number(beats) * unit) / (units[index] ?? unit)));
  return { groups, unit };
}

function addTempo(tempo: { atQuarters: number; quartersPerMinute: number }[], at: number, value: number): void {
  tempo.push({ atQuarters: Math.max(0, at), quartersPerMinute: Math.min(1000, Math.max(5, value)) });
}

function asLoudness(percentOfForte: number): number {
  return Math.min(1, Math.max(0, (percentOfForte / 100) * (FORTE_VELOCITY / 127)));
}

function metronomeTempo(metronome: XmlElement): number | undefined {
  const perMinute = Number((childText(metronome, 'per-minute') ?? '').match(/[\d.]+/)?.[0]);
  const unit = BEAT_UNITS[childText(metronome, 'beat-unit') ?? ''];
  if (!(perMinute > 0) || unit === undefined) return undefined;
  const dots = metronome.children.filter((one) => one.name === 'beat-unit-dot').length;
  return perMinute * unit * (2 - 2 ** -dots);
}
