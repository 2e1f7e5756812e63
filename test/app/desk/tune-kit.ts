import { join } from 'node:path';
import { guideFileBeside } from '../../../app/desk/guide-file.ts';
import { makeGuide } from '../../../app/desk/make-guide.ts';
import { WaveFileWriter } from '../../../app/work/wave-file.ts';
import { usualGuide } from '../../../core/guide/guide-plan.ts';
import { instrumentOf } from '../../../core/guide/instrument.ts';
import { PartPlayer } from '../../../core/guide/mock-up.ts';
import { TempoMap } from '../../../core/guide/tempo-map.ts';
import { Random } from '../../../core/signal/random.ts';

const RATE_HZ = 24000;

/** How a take is played. */
export interface Playing {
  readonly name: string;
  readonly part: number;
  readonly cents: number;
  /** From the third bar on. */
  readonly lateSec: number;
  /** Session time at which the recorder starts. */
  readonly offsetSec: number;
}

const XML_NOTES: Readonly<Record<string, readonly string[]>> = {
  Flute: ['C5', 'E5', 'G5', 'F5', 'E5', 'D5', 'C5', 'B4', 'A4', 'C5', 'B4', 'G4', 'A4', 'B4', 'C5', 'C5'],
  Cello: ['C3', 'C3', 'E3', 'D3', 'C3', 'G3', 'E3', 'G3', 'F3', 'A3', 'G3', 'E3', 'F3', 'D3', 'C3', 'C3'],
};

/** Two parts of four bars, as MusicXML. */
export function scoreText(): string {
  const names = Object.keys(XML_NOTES);
  const list = names.map((name, n) => `<score-part id="P${n}"><part-name>${name}</part-name></score-part>`).join('');
  const parts = names.map((name, n) => {
    const bars = [0, 1, 2, 3].map((bar) => {
      const notes = XML_NOTES[name]!.slice(4 * bar, 4 * bar + 4)
        .map(
          (note) =>
            `<note><pitch><step>${note[0]}</step><octave>${note[1]}</octave></pitch><duration>1</duration><type>quarter</type></note>`,
        )
        .join('');
      const head =
        bar > 0
          ? ''
          : '<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes><sound tempo="100"/>';
      return `<measure number="${bar + 1}">${head}${notes}</measure>`;
    });
    return `<part id="P${n}">${bars.join('')}</part>`;
  });
  return `<?xml version="1.0"?><score-partwise version="4.0"><part-list>${list}</part-list>${parts.join('')}</score-partwise>`;
}

/** Makes the guide of a score beside it. */
export async function guideOf(score: string, folder: string): Promise<string> {
  const made = await makeGuide({
    score,
    outFolder: folder,
    metre: { beats: 4, unit: 4 },
    bars: 4,
    settings: { ...usualGuide, silenceSec: 2, tuningSec: 0, countInBars: 1 },
    temperament: 'equal',
    tonic: 0,
    clickDb: -20,
    droneKey: null,
    ownDb: 0,
    formats: ['wav'],
    signal: new AbortController().signal,
    onStep: () => () => {},
  });
  return join(folder, made.files[0]!.file);
}

/** Plays a take to a guide: room noise, the clap where the guide has it, the part. */
export async function play(guide: string, playing: Playing, folder: string): Promise<string> {
  const { plan, score } = (await guideFileBeside(guide))!;
  const tempo = new TempoMap(score.tempo, score.holds);
  const random = new Random(playing.part + 5);
  const frameAt = (sec: number): number => Math.round((sec - playing.offsetSec) * RATE_HZ);
  const samples = new Float32Array(frameAt(plan.lengthFrames / 48000));
  for (let n = 0; n < samples.length; n++) samples[n] = 0.0008 * random.gaussian();
  const clap = frameAt(plan.cues[0]!.clapFrame / 48000);
  for (let n = 0; n < 0.06 * RATE_HZ; n++) samples[clap + n]! += 0.5 * Math.exp(-n / 200) * random.gaussian();
  const part = score.parts[playing.part]!;
  const at = (quarters: number): number =>
    plan.musicFrame / 48000 + tempo.secAt(quarters) + (quarters < 8 ? 0 : playing.lateSec);
  const player = new PartPlayer(
    part.notes.map((note) => ({
      fromFrame: frameAt(at(note.atQuarters)),
      toFrame: frameAt(at(note.atQuarters + note.lengthQuarters) - 0.06),
      hz: 440 * 2 ** ((note.key - 69 + playing.cents / 100) / 12),
      loudness: 0.9,
    })),
    instrumentOf('plucked', RATE_HZ),
    RATE_HZ,
  );
  player.addTo(samples, 1);
  const path = join(folder, `${playing.name}.wav`);
  const writer = new WaveFileWriter(path, { format: 'float32', channels: 1, rateHz: RATE_HZ });
  writer.write([samples]);
  writer.finish();
  return path;
}
