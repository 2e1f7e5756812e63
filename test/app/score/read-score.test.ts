import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { strToU8, zipSync } from 'fflate';
import { afterAll, describe, expect, it } from 'vitest';
import { readScore } from '../../../app/score/read-score.ts';
import { readXml } from '../../../app/score/xml-syntax.ts';
import { barLines } from '../../../core/guide/bar-lines.ts';
import { planGuide, usualGuide } from '../../../core/guide/guide-plan.ts';
import { readMusicXml } from '../../../core/guide/read-musicxml.ts';
import type { Score } from '../../../core/guide/score.ts';
import { PartsongError } from '../../../core/signal/fault.ts';
import { Random } from '../../../core/signal/random.ts';

// Source of every construct: MusicXML 4.0 (W3C), reference pages (CV-8.5). The files are our own.
const folder = mkdtempSync(join(tmpdir(), 'partsong-score-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let count = 0;

const pitch = (step: string, octave: number, alter = 0): string =>
  `<pitch><step>${step}</step>${alter === 0 ? '' : `<alter>${alter}</alter>`}<octave>${octave}</octave></pitch>`;
const note = (what: string, duration: number, more = ''): string =>
  `<note>${more.includes('<chord/>') ? '<chord/>' : ''}${what}<duration>${duration}</duration>${more.replace('<chord/>', '')}</note>`;
const C4 = pitch('C', 4);
const time = (beats: string, unit: number): string =>
  `<time><beats>${beats}</beats><beat-type>${unit}</beat-type></time>`;
const start = (divisions = 1, metre = time('4', 4), more = ''): string =>
  `<attributes><divisions>${divisions}</divisions>${metre}${more}</attributes>`;
const whole = note(C4, 4);

function document(measures: readonly string[], attributes: readonly string[] = []): string {
  const bars = measures.map(
    (body, index) => `<measure number="${index + 1}" ${attributes[index] ?? ''}>${body}</measure>`,
  );
  return `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0"><work><work-title>Evening canon</work-title></work>
<part-list><score-part id="P1"><part-name>Tenor viol</part-name></score-part></part-list>
<part id="P1">${bars.join('')}</part></score-partwise>`;
}

async function read(text: string | Uint8Array, ending = 'musicxml'): Promise<Score> {
  const file = join(folder, `score-${++count}.${ending}`);
  writeFileSync(file, text);
  return readScore(file);
}

const heard = (score: Score, part = 0): number[][] =>
  score.parts[part]!.notes.map((one) => [one.key, one.atQuarters, one.lengthQuarters]);

describe('the reading of MusicXML', () => {
  it('counts divisions, tuplets and chords: triplets of divisions 6 are thirds of a quarter', async () => {
    const triplet = [pitch('C', 4), pitch('E', 4), pitch('G', 4)].map((one) => note(one, 2)).join('');
    const score = await read(document([start(6) + triplet + note(C4, 18) + note(pitch('F', 4, 1), 18, '<chord/>')]));
    expect(score.title).toBe('Evening canon');
    expect(score.parts[0]!.sound).toBe('bowed');
    expect(heard(score)).toEqual([
      [60, 0, 1 / 3],
      [64, 1 / 3, 1 / 3],
      [67, 2 / 3, 1 / 3],
      [60, 1, 3],
      [66, 1, 3],
    ]);
  });

  it('lets two voices of a staff sound together through backup and forward', async () => {
    const body = `${start(2)}${note(pitch('G', 4), 8, '<voice>1</voice>')}<backup><duration>8</duration></backup><forward><duration>4</duration></forward>${note(C4, 4, '<voice>2</voice>')}`;
    expect(heard(await read(document([body])))).toEqual([
      [67, 0, 4],
      [60, 2, 2],
    ]);
  });

  it('joins tied notes over bar lines, chord notes each for itself', async () => {
    const tie = (type: string): string => `<tie type="${type}"/>`;
    const score = await read(
      document([
        start() + note(C4, 4, tie('start')) + note(pitch('E', 4), 4, `<chord/>${tie('start')}`),
        note(C4, 4, tie('stop') + tie('start')) + note(pitch('E', 4), 4, `<chord/>${tie('stop')}`),
        note(C4, 2, tie('stop')) + note(C4, 2),
      ]),
    );
    expect(heard(score)).toEqual([
      [60, 0, 10],
      [64, 0, 8],
      [60, 10, 2],
    ]);
  });

  it('plays grace notes a 32nd each before the beat and leaves cue notes out', async () => {
    const grace = (what: string): string => `<note><grace slash="yes"/>${what}</note>`;
    const cue = `<note><cue/>${C4}<duration>2</duration></note>`;
    const score = await read(
      document([start() + note(C4, 2) + grace(pitch('D', 4)) + grace(pitch('E', 4)) + note(pitch('F', 4), 2), cue]),
    );
    expect(heard(score)).toEqual([
      [60, 0, 2],
      [62, 1.75, 0.125],
      [64, 1.875, 0.125],
      [65, 2, 2],
    ]);
  });

  it('brings a clarinet in B flat and a double bass to sounding pitch', async () => {
    const flat = '<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>';
    const low = '<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>';
    expect(heard(await read(document([start(1, time('4', 4), flat) + whole])))[0]![0]).toBe(58);
    expect(heard(await read(document([start(1, time('4', 4), low) + whole])))[0]![0]).toBe(48);
  });

  const bar = (step: string, more = ''): string => note(pitch(step, 4), 4) + more;
  const order = (score: Score): string => score.parts[0]!.notes.map((one) => 'C.D.EF.G.A.B'[one.key % 12]).join('');
  const forward = '<barline location="left"><repeat direction="forward"/></barline>';
  const backward = '<barline location="right"><repeat direction="backward"/></barline>';
  const ending = (numbers: string, type: string, more = ''): string =>
    `<barline><ending number="${numbers}" type="${type}"/>${more}</barline>`;
  const repeat = '<repeat direction="backward"/>';

  it('unrolls repeats and first, second and third endings', async () => {
    expect(order(await read(document([start() + bar('C'), forward + bar('D'), bar('E', backward), bar('F')])))).toBe(
      'CDEDEF',
    );
    const voltas = await read(
      document([
        start() + forward + bar('C'),
        ending('1, 2', 'start') + bar('D', ending('1, 2', 'stop', repeat)),
        ending('3', 'start') + bar('E', ending('3', 'discontinue')),
        bar('F', backward),
      ]),
    );
    expect(order(voltas)).toBe('CDCDCEFF');
    const thrice = document([
      start() + forward + bar('C', '<barline><repeat direction="backward" times="3"/></barline>'),
      bar('D'),
    ]);
    expect(order(await read(thrice))).toBe('CCCD');
  });

  it('follows da capo al fine and dal segno al coda', async () => {
    const daCapo = [start() + bar('C'), bar('D', '<sound fine="yes"/>'), bar('E', '<sound dacapo="yes"/>')];
    expect(order(await read(document(daCapo)))).toBe('CDECD');
    const dalSegno = [
      start() + bar('C'),
      `<sound segno="s1"/>${bar('D', '<sound tocoda="c1"/>')}`,
      bar('E', '<sound dalsegno="s1"/>'),
      `<sound coda="c1"/>${bar('F')}`,
    ];
    expect(order(await read(document(dalSegno)))).toBe('CDEDF');
  });

  it('takes tempo from sound and from metronome marks: dotted quarter = 60 is 90 quarters a minute', async () => {
    const mark =
      '<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>60</per-minute></metronome></direction-type></direction>';
    const score = await read(
      document([
        start(1, time('6', 8)) + mark + note(C4, 3),
        `<direction><direction-type><words>x</words></direction-type><offset sound="yes">1</offset><sound tempo="72"/></direction>${note(C4, 3)}`,
      ]),
    );
    expect(score.tempo.map((one) => [one.atQuarters, one.quartersPerMinute])).toEqual([
      [0, 90],
      [4, 72],
    ]);
  });

  it('reads dynamics, a pick-up, an added-up metre and a fermata', async () => {
    const forte = '<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>';
    const score = await read(
      document(
        [
          start(1, time('3+2', 8)) + note(C4, 1),
          forte + note(C4, 2.5),
          note(C4, 2.5, '<notations><fermata/></notations>'),
        ],
        ['implicit="yes"'],
      ),
    );
    expect(score.pickUpQuarters).toBe(1);
    expect(score.parts[0]!.notes[1]!.loudness).toBeGreaterThan(score.parts[0]!.notes[0]!.loudness);
    expect(barLines(score).map((one) => one.beats.map((beat) => beat.lengthQuarters))).toEqual([
      [1],
      [1.5, 1],
      [1.5, 1],
    ]);
    expect(score.holds).toEqual([{ atQuarters: 6, sec: 1.25 }]);
  });

  it('counts nested tuplets: a triplet of quarters in which one quarter is a quintuplet of sixteenths', async () => {
    // Divisions 30: a quarter of the triplet is 20, a note of the quintuplet in it 4.
    const five = Array.from({ length: 5 }, () => note(pitch('D', 4), 4)).join('');
    const score = await read(document([start(30, time('2', 4)) + note(C4, 20) + five + note(C4, 20)]));
    const at = heard(score).map(([, from]) => from!);
    expect(at).toHaveLength(7);
    at.forEach((from, n) => {
      expect(from).toBeCloseTo(n === 0 ? 0 : n === 6 ? 4 / 3 : 2 / 3 + ((n - 1) * 2) / 15, 12);
    });
    expect(score.lengthQuarters).toBe(2);
  });

  it('follows divisions that change from bar to bar and within one, over a backup', async () => {
    const again = (divisions: number): string => `<attributes><divisions>${divisions}</divisions></attributes>`;
    const score = await read(
      document([
        start(2) + note(C4, 8),
        `${again(7)}${note(C4, 14)}${again(3)}${note(pitch('D', 4), 6)}<backup><duration>12</duration></backup>${note(pitch('G', 3), 12)}`,
      ]),
    );
    expect(heard(score)).toEqual([
      [60, 0, 4],
      [55, 4, 4],
      [60, 4, 2],
      [62, 6, 2],
    ]);
  });

  it('leaves drums without pitch out, says so, and keeps their part', async () => {
    const unpitched = '<unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>';
    const score = await read(document([start() + note(unpitched, 4)]));
    expect(score.parts).toHaveLength(1);
    expect(score.parts[0]!.notes).toEqual([]);
    expect(score.notes.join(' ')).toMatch(/without pitch were left out/);
  });

  it('keeps the two staves of a piano in one part', async () => {
    const staff = (n: number): string => `<staff>${n}</staff>`;
    const body = `${start(1, time('4', 4), '<staves>2</staves>')}${note(pitch('E', 5), 4, staff(1))}<backup><duration>4</duration></backup>${note(pitch('C', 3), 4, staff(2))}`;
    const score = await read(document([body]));
    expect(score.parts).toHaveLength(1);
    expect(heard(score)).toEqual([
      [48, 0, 4],
      [76, 0, 4],
    ]);
  });

  it('takes a bar without notes for a full one, and a cadenza of 11 quarters and a third for one beat', async () => {
    const score = await read(
      document([start() + bar('C'), '', start(3) + note(pitch('E', 4), 34), bar('F').repeat(3)]),
    );
    expect(heard(score).map(([key, from]) => [key, from])).toEqual([
      [60, 0],
      [64, 8],
      [65, 8 + 11.5],
      [65, 8 + 11.5 + 4 / 3],
      [65, 8 + 11.5 + 8 / 3],
    ]);
    const bars = barLines(score);
    expect(bars.map((one) => one.atQuarters)).toEqual([0, 4, 8, 19.5]);
    expect(score.notes.join(' ')).toMatch(/counted as one beat/);
  });

  it('transposes from the bar on in which an instrument is changed', async () => {
    const transpose = (chromatic: number): string =>
      `<attributes><transpose><chromatic>${chromatic}</chromatic></transpose></attributes>`;
    const score = await read(document([start() + whole, transpose(-3) + whole, transpose(0) + whole]));
    expect(heard(score).map(([key]) => key)).toEqual([60, 57, 60]);
  });

  it('counts a metre of several beat types in the shortest: 3/8 + 2/4 is 3 + 4 eighths', async () => {
    const both = '<time><beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>4</beat-type></time>';
    const [first] = barLines(await read(document([start(2, both) + note(C4, 7)])));
    expect([first!.lengthQuarters, first!.metre.beats, first!.metre.unit]).toEqual([3.5, 7, 8]);
    expect(first!.beats.map((beat) => beat.lengthQuarters)).toEqual([1.5, 2]);
  });

  it('plays grace chords together, and grace notes that end a bar before its end', async () => {
    const grace = (what: string, more = ''): string => `<note><grace/>${more}${what}</note>`;
    const score = await read(
      document([
        start() + note(C4, 4) + grace(pitch('D', 4)) + grace(pitch('F', 4), '<chord/>') + grace(pitch('E', 4)),
        whole,
      ]),
    );
    expect(heard(score)).toEqual([
      [60, 0, 4],
      [62, 3.75, 0.125],
      [65, 3.75, 0.125],
      [64, 3.875, 0.125],
      [60, 4, 4],
    ]);
  });

  it('plays dal segno al coda without the repeats a second time, and takes the earlier tempo up again', async () => {
    const slower = '<direction><direction-type><words>x</words></direction-type><sound tempo="60"/></direction>';
    const score = await read(
      document([
        `${start()}<sound tempo="96"/>${bar('C')}`,
        `<sound segno="s"/>${forward}${bar('D', `<sound tocoda="c"/>`)}`,
        slower + bar('E', backward),
        bar('F', '<sound dalsegno="s"/>'),
        `<sound coda="c"/>${bar('G')}`,
      ]),
    );
    expect(order(score)).toBe('CDEDEFDG');
    const tempo = (atQuarters: number): number =>
      score.tempo.findLast((one) => one.atQuarters <= atQuarters)!.quartersPerMinute;
    expect([0, 4, 8, 12, 16, 20, 24].map(tempo)).toEqual([96, 96, 60, 96, 60, 60, 96]);
  });

  it('follows D.C., Fine and the segno by their words and signs where nothing else tells, and says so', async () => {
    const words = (text: string): string =>
      `<direction><direction-type><words>${text}</words></direction-type></direction>`;
    const capo = await read(document([start() + bar('C'), bar('D', words('Fine')), bar('E', words('D.C. al Fine'))]));
    expect(order(capo)).toBe('CDECD');
    expect(capo.notes.join(' ')).toMatch(/D\.C\. al Fine/);
    const sign = '<direction><direction-type><segno/></direction-type></direction>';
    expect(order(await read(document([start() + bar('C'), sign + bar('D'), bar('E', words('D.S.'))])))).toBe('CDEDE');
  });

  it('cuts the last bar of a repeat short that began with a pick-up', async () => {
    const score = await read(document([start() + note(C4, 1), bar('D'), note(pitch('E', 4), 3) + backward, bar('F')]));
    expect(heard(score).map(([, from]) => from)).toEqual([0, 1, 5, 8, 9, 13, 16]);
  });

  it('ties chord notes over the bar line each to its own, with a note between', async () => {
    const tie = (type: string): string => `<tie type="${type}"/>`;
    const score = await read(
      document([
        start() +
          note(C4, 4, tie('start')) +
          note(pitch('E', 4), 4, `<chord/>${tie('start')}`) +
          note(pitch('G', 4), 4, '<chord/>'),
        note(pitch('E', 4), 2, tie('stop')) + note(C4, 2, `<chord/>${tie('stop')}`) + note(pitch('G', 4), 2),
      ]),
    );
    expect(heard(score)).toEqual([
      [60, 0, 6],
      [64, 0, 6],
      [67, 0, 4],
      [67, 6, 2],
    ]);
  });

  it('neither crashes nor takes 2 s for 10 000 random and mutilated documents', { timeout: 120_000 }, () => {
    const random = new Random(2024);
    const whole = document([
      start(6) + note(C4, 2, '<notations><tuplet type="start"/></notations>') + note(pitch('E', 4), 22),
      `${forward}<sound segno="s"/>${bar('C')}<backup><duration>3</duration></backup>${note(C4, 3)}`,
      ending('1', 'start') + bar('D', ending('1', 'stop', repeat)),
      ending('2', 'start') + bar('E', '<sound tempo="72" dalsegno="s"/>'),
    ]);
    const pieces = whole.match(/<[^>]*>|[^<]+/g)!;
    let read = 0;
    let slowest = 0;
    for (let n = 0; n < 10_000; n++) {
      const text = n % 10 === 0 ? noise(random) : mutilated(pieces, random);
      const began = performance.now();
      try {
        const score = readMusicXml(readXml(text, 'x.musicxml'), 'x');
        if (score.lengthQuarters < 2000) planGuide(score, usualGuide);
        read++;
      } catch (error) {
        // A file that cannot be read is told by one of these two; nothing else may come.
        if (!(error instanceof RangeError) && !(error instanceof PartsongError)) {
          throw new Error(`document ${n} of seed 2024`, { cause: error });
        }
      }
      slowest = Math.max(slowest, performance.now() - began);
    }
    expect(slowest).toBeLessThan(2000);
    expect(read).toBeGreaterThan(1000);
  });

  it('refuses what would unroll without end: a note of 10^9 quarters, half a million notes by repeats', async () => {
    await expect(read(document([start() + note(C4, 1e9)]))).rejects.toThrow(/lasts 1000000000 quarters/);
    const many = note(C4, 1).repeat(400);
    const bars = Array.from(
      { length: 40 },
      () => `${many}<barline><repeat direction="backward" times="50"/></barline>`,
    );
    await expect(read(document([start(100) + many, ...bars]))).rejects.toMatchObject({ code: 'score-unreadable' });
  });

  it('reads a compressed file by its container', async () => {
    const container = '<container><rootfiles><rootfile full-path="music/score.xml"/></rootfiles></container>';
    const packed = zipSync({
      'META-INF/container.xml': strToU8(container),
      'music/score.xml': strToU8(document([start() + whole])),
    });
    expect(heard(await read(packed, 'mxl'))).toEqual([[60, 0, 4]]);
  });

  it('refuses entity bombs, external entities, huge nesting, timewise files and nonsense with a sentence', async () => {
    const bomb =
      '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]><score-partwise>&b;</score-partwise>';
    const outside =
      '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><score-partwise>&e;</score-partwise>';
    await expect(read(bomb)).rejects.toMatchObject({ code: 'score-unreadable' });
    await expect(read(outside)).rejects.toMatchObject({ code: 'score-unreadable' });
    await expect(read('<a>'.repeat(100_000))).rejects.toThrow(/nested more than 100 deep/);
    await expect(read('<score-timewise/>')).rejects.toThrow(/timewise/);
    await expect(read('<html/>')).rejects.toThrow(/no MusicXML score/);
    await expect(read('Dear diary')).rejects.toThrow(/neither MIDI nor MusicXML/);
    await expect(readScore(join(folder, 'nowhere.mid'))).rejects.toMatchObject({ code: 'file-missing' });
  });
});

/** Pieces of a document left out, doubled, swapped, or with other figures in them. */
function mutilated(pieces: readonly string[], random: Random): string {
  const made = [...pieces];
  const any = (): number => Math.floor(random.uniform() * made.length);
  for (let count = 1 + Math.floor(4 * random.uniform()); count > 0; count--) {
    const at = any();
    const kind = Math.floor(6 * random.uniform());
    if (kind === 0) made.splice(at, 1);
    else if (kind === 1) made.splice(at, 0, made[any()]!);
    else if (kind === 2) [made[at], made[any()]] = [made[any()]!, made[at]!];
    else if (kind === 3) made.length = Math.max(1, at);
    else {
      const figures = ['-1', '0', '1e9', 'NaN', '', '0.001', '99999999999999999999', '7', '50', '-1e308'];
      const figure = figures[Math.floor(random.uniform() * figures.length)]!;
      // Figures are where a piece without brackets or an attribute holds some.
      for (let n = 0; n < made.length; n++) {
        const piece = made[(at + n) % made.length]!;
        if (!/\d/.test(piece) || piece.startsWith('<?') || piece.startsWith('<!')) continue;
        made[(at + n) % made.length] = piece.replace(/\d+/, figure);
        break;
      }
    }
  }
  return made.join('');
}

function noise(random: Random): string {
  const letters = '<>/="\'&;! \n-abcdefgnopst0123456789';
  const length = Math.floor(400 * random.uniform());
  return Array.from({ length }, () => letters[Math.floor(random.uniform() * letters.length)]!).join('');
}
