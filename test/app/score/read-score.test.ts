import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { strToU8, zipSync } from 'fflate';
import { afterAll, describe, expect, it } from 'vitest';
import { readScore } from '../../../app/score/read-score.ts';
import { barLines } from '../../../core/guide/bar-lines.ts';
import type { Score } from '../../../core/guide/score.ts';

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
