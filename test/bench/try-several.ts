import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type PitchVerdict, pitchVerdict } from '../../core/pitch/pitch-verdict.ts';
import { secondPitch } from '../../core/pitch/second-pitch.ts';
import { soundOf } from '../../core/signal/sound.ts';
import { RATE_HZ, tracked } from '../core/pitch/pitch-kit.ts';
import { CHOSEN_ON, HELD_OUT, type Player } from '../reference/melody-cases.ts';
import { type SeveralCase, severalCase, severalSounds, type Texture } from '../reference/several-cases.ts';

/**
 * Prints how takes of one voice and of several are judged, by their track alone and with a look at what sounds beside it
 * (core/pitch/second-pitch.ts): players on which constants were chosen, and players held out. To run:
 * npx rolldown test/bench/try-several.ts --platform node --format esm -o /tmp/try-several.mjs && node /tmp/try-several.mjs [SEED]
 */
const seed = Number(process.argv[2] ?? 1);
const LENGTH_SEC = 8;

const more = (name: string, program: number, low: number, high: number): Player => ({
  family: 'blown',
  name,
  program,
  low,
  high,
});
/** Programs of even numbers go to the players chosen on, odd ones to those held out. */
const MORE: readonly Player[] = [
  more('celesta', 8, 62, 90),
  more('music box', 10, 67, 91),
  more('vibraphone', 11, 55, 84),
  more('marimba', 12, 48, 84),
  more('xylophone', 13, 65, 96),
  more('dulcimer', 15, 50, 80),
  more('rock organ', 18, 48, 79),
  more('harmonica', 22, 60, 84),
  more('jazz guitar', 26, 43, 74),
  more('clean guitar', 27, 43, 74),
  more('fretless bass', 35, 30, 52),
  more('plucked strings', 45, 43, 76),
  more('harp', 46, 45, 86),
  more('string section', 48, 43, 79),
  more('slow strings', 49, 43, 79),
  more('choir', 52, 48, 76),
  more('tuba', 58, 29, 55),
  more('muted trumpet', 59, 55, 79),
  more('soprano saxophone', 64, 58, 84),
  more('baritone saxophone', 67, 38, 65),
  more('english horn', 69, 54, 76),
  more('piccolo', 72, 74, 96),
  more('pan flute', 75, 62, 86),
  more('shakuhachi', 77, 62, 84),
  more('banjo', 105, 50, 76),
  more('koto', 107, 48, 80),
  more('fiddle', 110, 55, 84),
];
const TEXTURES: readonly Texture[] = [
  'thirds',
  'sixths',
  'fifths',
  'octaves',
  'chords',
  'two parts',
  'drone',
  'half doubled',
  'leak',
  'ringing',
];
const KINDS = ['pitched', 'unsure', 'several', 'unpitched', 'silent'] as const;
type Tally = Record<PitchVerdict['kind'], number>;

const folder = mkdtempSync(join(tmpdir(), 'partsong-several-'));
try {
  judge('chosen on', [...CHOSEN_ON, ...MORE.filter((one) => one.program % 2 === 0)], 0);
  judge('held out', [...HELD_OUT, ...MORE.filter((one) => one.program % 2 === 1)], 1);
} finally {
  rmSync(folder, { recursive: true, force: true });
}

function judge(half: string, players: readonly Player[], number: number): void {
  const tallies = new Map<string, { readonly alone: Tally; readonly looked: Tally }>();
  const wrong: string[] = [];
  for (const [index, player] of players.entries()) {
    const cases = casesOf(player, 100_000 * seed + 50_000 * number + 100 * index);
    for (const [n, sound] of severalSounds(cases, folder).entries()) {
      const track = tracked(sound);
      const alone = pitchVerdict(track).kind;
      const looked = pitchVerdict(track, () => secondPitch(soundOf(sound, RATE_HZ), track)).kind;
      const one = cases[n]!;
      const name = one.cutHz === null ? one.texture : `${one.texture}, low cut`;
      const tally = tallies.get(name) ?? { alone: none(), looked: none() };
      tallies.set(name, tally);
      tally.alone[alone]++;
      tally.looked[looked]++;
      if (one.texture === 'one' && looked === 'several') wrong.push(`${one.name} (by its track alone ${alone})`);
    }
  }
  console.log(`\n${half}: takes told to be ${KINDS.join(' / ')}, by the track alone -> with a look beside it`);
  for (const [name, { alone, looked }] of tallies) console.log(`${name.padEnd(22)} ${said(alone)} -> ${said(looked)}`);
  console.log(`one voice refused: ${wrong.length === 0 ? 'none' : wrong.join('; ')}`);
}

function casesOf(player: Player, from: number): SeveralCase[] {
  const ones = Array.from({ length: 4 }, (_, n) => severalCase(player, 'one', from + n, LENGTH_SEC, n === 3));
  const others = TEXTURES.map((texture, n) => severalCase(player, texture, from + 10 + n, LENGTH_SEC));
  const cut = (['thirds', 'two parts'] as const).map((texture, n) =>
    severalCase(player, texture, from + 30 + n, LENGTH_SEC, true),
  );
  return [...ones, ...others, ...cut];
}

function none(): Tally {
  return { pitched: 0, unsure: 0, several: 0, unpitched: 0, silent: 0 };
}

function said(tally: Tally): string {
  return KINDS.map((kind) => String(tally[kind]).padStart(3)).join(' /');
}
