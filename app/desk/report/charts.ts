import type { MixReport, NoiseReport } from '../../../core/session/report.ts';
import { clockText } from '../../../core/signal/time.ts';
import { px, wholeTimes } from './markup.ts';

const WIDTH = 520;
const HEIGHT = 210;
const LEFT = 46;
const BOTTOM = 26;

/** A chart's frame: horizontal rules with their values at the left. */
function frame(
  label: string,
  values: readonly number[],
  y: (value: number) => number,
  width: number,
  inside: string,
): string {
  const rules = values
    .map(
      (value) =>
        `<line class="staff" x1="${LEFT}" x2="${width - 6}" y1="${px(y(value))}" y2="${px(y(value))}"/>` +
        `<text class="faint" x="${LEFT - 6}" y="${px(y(value) + 4)}" text-anchor="end">${value < 0 ? '−' : ''}${Math.abs(value)}</text>`,
    )
    .join('');
  return `<svg viewBox="0 0 ${width} ${HEIGHT}" role="img" aria-label="${label}">${rules}${inside}</svg>`;
}

function path(points: readonly (readonly [number, number])[]): string {
  return points.length === 0 ? '' : `M${points.map(([x, y]) => `${px(x)} ${px(y)}`).join('L')}`;
}

/** The noise in the silence, before and after cleaning, level over pitch of sound (third octaves). */
export function noiseChart(noise: NoiseReport): string {
  const bands = noise.spectrum;
  if (bands.length < 2) return '';
  const levels = bands.flatMap((band) => [band.beforeDb, band.afterDb]).filter((value) => value > -140);
  if (levels.length === 0) return '';
  const top = Math.ceil((Math.max(...levels) + 3) / 20) * 20;
  const low = Math.floor((Math.min(...levels) - 3) / 20) * 20;
  const y = (db: number): number => 8 + ((top - Math.max(low, db)) / (top - low)) * (HEIGHT - BOTTOM - 16);
  const first = Math.log2(bands[0]!.hz);
  const last = Math.log2(bands.at(-1)!.hz);
  const x = (hz: number): number => LEFT + ((Math.log2(hz) - first) / (last - first)) * (WIDTH - LEFT - 12);
  const rules = Array.from({ length: Math.round((top - low) / 20) + 1 }, (_, n) => top - 20 * n);
  const pitches = [50, 100, 200, 500, 1000, 2000, 5000, 10000]
    .filter((hz) => hz >= bands[0]!.hz && hz <= bands.at(-1)!.hz)
    .map(
      (hz) =>
        `<text class="faint" x="${px(x(hz))}" y="${HEIGHT - 8}" text-anchor="middle">${hz < 1000 ? `${hz} Hz` : `${hz / 1000} kHz`}</text>`,
    )
    .join('');
  const hum =
    noise.humHz === null || noise.humHz < bands[0]!.hz
      ? ''
      : `<g class="mark"><line x1="${px(x(noise.humHz))}" x2="${px(x(noise.humHz))}" y1="8" y2="${HEIGHT - BOTTOM - 6}" stroke-dasharray="2 3"/></g>` +
        `<text x="${px(x(noise.humHz) + 4)}" y="18">hum ${noise.humHz.toFixed(0)} Hz</text>`;
  const before = path(bands.map((band) => [x(band.hz), y(band.beforeDb)] as const));
  const after = path(bands.map((band) => [x(band.hz), y(band.afterDb)] as const));
  return `<figure>${frame('Noise in the silence before and after cleaning, dBFS per third octave', rules, y, WIDTH, `${pitches}<path class="before" d="${before}"/><path class="after" d="${after}"/>${hum}`)}
<figcaption>Noise in the silence, dBFS in each third of an octave: dashed before, solid after cleaning.</figcaption></figure>`;
}

/** Short-term loudness of the mix over time, with the target. */
export function loudnessChart(mix: MixReport): string {
  const width = 1120;
  const values = mix.shortTermLufs.filter((value): value is number => value !== null);
  if (values.length === 0) return '';
  const top = Math.ceil((Math.max(mix.targetLufs, ...values) + 2) / 6) * 6;
  const low = Math.max(-60, Math.floor((Math.min(mix.targetLufs, ...values) - 2) / 6) * 6);
  const y = (lufs: number): number => 8 + ((top - Math.max(low, lufs)) / (top - low)) * (HEIGHT - BOTTOM - 16);
  const x = (sec: number): number => LEFT + (sec / Math.max(1, mix.lengthSec)) * (width - LEFT - 12);
  const stretches: (readonly [number, number])[][] = [[]];
  mix.shortTermLufs.forEach((value, n) => {
    if (value === null) stretches.push([]);
    else stretches.at(-1)!.push([x(n * 0.5), y(value)]);
  });
  const ticks = wholeTimes(mix.lengthSec)
    .map(
      (sec) => `<text class="faint" x="${px(x(sec))}" y="${HEIGHT - 8}" text-anchor="middle">${clockText(sec)}</text>`,
    )
    .join('');
  const rules = Array.from({ length: Math.round((top - low) / 6) + 1 }, (_, n) => top - 6 * n);
  const target = `<line class="target" x1="${LEFT}" x2="${width - 6}" y1="${px(y(mix.targetLufs))}" y2="${px(y(mix.targetLufs))}"/>`;
  return `<figure>${frame('Short-term loudness of the mix over time, LUFS', rules, y, width, `${ticks}${target}${stretches.map((points) => `<path class="curve" d="${path(points)}"/>`).join('')}`)}
<figcaption>Loudness of the mix over time (LUFS, each point the last 3 s). Dashed: the target for the whole.</figcaption></figure>`;
}
