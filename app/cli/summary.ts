import { join } from 'node:path';
import type { Report, TakeReport } from '../../core/session/report.ts';
import { exactness, isUnplaced } from '../desk/placement.ts';
import { level, ppm, shortened, time } from '../desk/report/markup.ts';

/** Letters of a voice's name that the table shows. */
const LONGEST_NAME = 40;

/** The result of a mix in plain lines, the figures a musician cares about first. */
export function summaryOf(report: Report, folder: string): string[] {
  const { mix } = report;
  const lines = ['', ...table(report.takes), ''];
  lines.push(
    `The mix: ${level(mix.integratedLufs, 'LUFS')} (target ${level(mix.targetLufs, 'LUFS')}), true peak ${level(mix.truePeakDbtp, 'dBTP')} (ceiling ${level(mix.ceilingDbtp, 'dBTP')}), ${time(mix.lengthSec)} long.`,
  );
  if (mix.limiterMaxDb > 0.05) lines.push(`The limiter took away ${level(mix.limiterMaxDb, 'dB')} at most.`);
  for (const take of report.takes) {
    if (take.placement?.question) lines.push('', `Look here, ${take.voice}: ${take.placement.question}`);
  }
  const notes = [
    ...report.notes,
    ...report.takes.flatMap((take) => take.notes.map((note) => `${take.voice}: ${note}`)),
  ];
  if (notes.length > 0) lines.push('', 'Worth knowing:', ...notes.map((note) => `  ${note}`));
  lines.push('', 'Where it is:', `  mix      ${join(folder, mix.file)}`);
  for (const copy of mix.copies) {
    lines.push(`  copy     ${join(folder, copy.file)} (cut to the music, ${time(copy.lengthSec)}; for upload)`);
  }
  lines.push(
    `  stems    ${join(folder, 'stems')}`,
    `  report   ${join(folder, 'report.html')}`,
    '',
    'Start listening at a low level: headphones can be far louder than they seem.',
  );
  return lines;
}

function table(takes: readonly TakeReport[]): string[] {
  const rows = [
    ['voice', 'begins at', 'within', 'drift', 'noise', 'reduced', 'gain', 'place'],
    ...takes.map((take) => [
      shortened(take.voice, LONGEST_NAME),
      take.placement === null || isUnplaced(take.placement) ? '?' : time(take.placement.offsetSec),
      take.placement === null ? '-' : exactness(take.placement),
      take.placement === null ? '-' : ppm(take.placement.driftPpm),
      take.noise === null ? '-' : level(take.noise.levelDbfs, 'dBFS'),
      take.noise === null ? '-' : level(take.noise.reducedDb, 'dB'),
      level(take.gainDb, 'dB', true),
      take.placeDeg === 0 ? 'centre' : `${Math.abs(take.placeDeg).toFixed(0)}° ${take.placeDeg < 0 ? 'left' : 'right'}`,
    ]),
  ];
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)));
  return rows.map((row) =>
    row
      .map((cell, column) => cell.padEnd(widths[column]!))
      .join('  ')
      .trimEnd(),
  );
}
