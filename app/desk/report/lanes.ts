import type { Report, TakeReport } from '../../../core/session/report.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { clockText } from '../../../core/signal/time.ts';
import { px, safe, shortened, time, wholeTimes } from './markup.ts';
import { VOICE_COLOURS } from './style.ts';

const WIDTH = 1120;
const NAME_WIDTH = 170;
const LANE_HEIGHT = 84;
const RULER_HEIGHT = 40;
const STAFF_LINES = 5;
/** Half the height of a waveform at the loudest moment of the music. */
const HALF_WAVE = 34;

/** Points of a waveform across the picture. */
const MOST_POINTS = 1500;

/** Smallest and largest sample of each of `perSec` stretches a second of a take's own time. */
export interface Waveform {
  readonly perSec: number;
  readonly lowest: readonly number[];
  readonly highest: readonly number[];
}

/** The lanes of the session as a score: a staff a voice, joined by a bracket, times running along the top line. */
export function lanesPicture(report: Report, waveforms: readonly (Waveform | undefined)[]): string {
  const height = RULER_HEIGHT + report.takes.length * LANE_HEIGHT + 24;
  const lengthSec = Math.max(1, report.mix.lengthSec);
  const x = (sec: number): number => NAME_WIDTH + (sec / lengthSec) * (WIDTH - NAME_WIDTH - 8);
  const bottom = RULER_HEIGHT + report.takes.length * LANE_HEIGHT;
  const lanes = report.takes.map((take, index) => lane(take, waveforms[index], index, x, lengthSec)).join('');
  const top = RULER_HEIGHT + 14;
  const bracket = `<path class="bracket" d="M${NAME_WIDTH - 4} ${top}h-8v${px(bottom - top - 14)}h8"/>`;
  return `<figure><svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="The takes on the session's time line">
${ruler(lengthSec, x, bottom)}${lanes}${bracket}</svg>
<figcaption>Shaded: the silence each noise was learnt from. Wedge: the clap. Pale: left out of the mix, before and after the music. All lanes share the session's time.</figcaption></figure>`;
}

function ruler(lengthSec: number, x: (sec: number) => number, bottom: number): string {
  const ticks: string[] = [];
  for (const sec of wholeTimes(lengthSec)) {
    ticks.push(
      `<line class="bar" x1="${px(x(sec))}" x2="${px(x(sec))}" y1="${RULER_HEIGHT - 10}" y2="${bottom}"/>` +
        `<text class="faint" x="${px(x(sec) + 3)}" y="${RULER_HEIGHT - 16}">${clockText(sec)}</text>`,
    );
  }
  return `<text x="0" y="${RULER_HEIGHT - 16}" font-style="italic">session time</text>${ticks.join('')}`;
}

function lane(
  take: TakeReport,
  waveform: Waveform | undefined,
  index: number,
  x: (sec: number) => number,
  lengthSec: number,
): string {
  const top = RULER_HEIGHT + index * LANE_HEIGHT;
  const middle = top + LANE_HEIGHT / 2;
  const colour = VOICE_COLOURS[index % 6]!;
  const staff = Array.from({ length: STAFF_LINES }, (_, line) => {
    const y = middle + (line - 2) * 13;
    return `<line class="staff" x1="${NAME_WIDTH}" x2="${WIDTH - 8}" y1="${y}" y2="${y}"/>`;
  }).join('');
  const toSession = sessionTimeOf(take);
  const clip = (sec: number): number => Math.min(lengthSec, Math.max(0, sec));
  const shade = take.silence === null ? '' : shaded(toSession, take.silence, clip, x, middle);
  const clap = take.placement?.evidence.find((one) => one.kind === 'clap' && one.accepted);
  return `<g>${staff}${shade}
<text x="${NAME_WIDTH - 20}" y="${middle - 4}" text-anchor="end">${safe(shortened(take.voice, 22))}</text>
<text class="faint" x="${NAME_WIDTH - 20}" y="${middle + 13}" text-anchor="end">${safe(take.role)}</text>
${waveform === undefined ? '' : wave(take, waveform, toSession, x, middle, colour, lengthSec)}
${clap === undefined ? '' : wedge(x(clip(toSession(clap.takeSec))), middle, time(toSession(clap.takeSec)))}</g>`;
}

/** Session time of a take's own time. */
export function sessionTimeOf(take: TakeReport): (takeSec: number) => number {
  const clock = take.placement ?? { offsetSec: 0, driftPpm: 0 };
  return (takeSec) => sessionSecOf(clock, takeSec);
}

function shaded(
  toSession: (sec: number) => number,
  silence: { fromSec: number; toSec: number },
  clip: (sec: number) => number,
  x: (sec: number) => number,
  middle: number,
): string {
  const from = x(clip(toSession(silence.fromSec)));
  const to = x(clip(toSession(silence.toSec)));
  if (to - from < 1) return '';
  return `<rect class="quiet" x="${px(from)}" width="${px(to - from)}" y="${middle - 32}" height="64"/>
<text class="faint" x="${px(from + 4)}" y="${middle + 30}" font-size="11">silence</text>`;
}

function wedge(at: number, middle: number, label: string): string {
  return `<g class="mark"><path d="M${px(at - 5)} ${middle - 36}h10l-5 9z"/><line x1="${px(at)}" x2="${px(at)}" y1="${middle - 27}" y2="${middle + 28}"/><title>clap at ${label}</title></g>`;
}

/** The waveform as two closed shapes: strong where the mix uses the take, pale before and after the music. */
function wave(
  take: TakeReport,
  waveform: Waveform,
  toSession: (sec: number) => number,
  x: (sec: number) => number,
  middle: number,
  colour: string,
  lengthSec: number,
): string {
  const music = take.music ?? { fromSec: 0, toSec: take.lengthSec };
  // The music fills its staff; a clap that is louder is cut at the staff's edge.
  const inMusic = (_: number, n: number): boolean =>
    n >= music.fromSec * waveform.perSec && n <= music.toSec * waveform.perSec;
  const loudest = [...waveform.highest.filter(inMusic), ...waveform.lowest.filter(inMusic)].reduce(
    (most, value) => Math.max(most, Math.abs(value)),
    1e-6,
  );
  // More points than the picture can show would only make the page heavy.
  const stride = Math.max(1, Math.floor((lengthSec * waveform.perSec) / MOST_POINTS));
  const height = (value: number): number => Math.max(-HALF_WAVE, Math.min(HALF_WAVE, (value / loudest) * HALF_WAVE));
  const shape = (fromSec: number, toSec: number): string => {
    const upper: string[] = [];
    const lower: string[] = [];
    for (
      let n = Math.floor(fromSec * waveform.perSec);
      n < toSec * waveform.perSec && n < waveform.highest.length;
      n += stride
    ) {
      const at = toSession(n / waveform.perSec);
      if (at < 0 || at > lengthSec) continue;
      upper.push(`${px(x(at))} ${px(middle - height(Math.max(...waveform.highest.slice(n, n + stride))) - 0.3)}`);
      lower.push(`${px(x(at))} ${px(middle - height(Math.min(...waveform.lowest.slice(n, n + stride))) + 0.3)}`);
    }
    return upper.length === 0 ? '' : `M${upper.join('L')}L${lower.reverse().join('L')}Z`;
  };
  const pale = shape(0, music.fromSec) + shape(music.toSec, take.lengthSec);
  return `<g style="color:${colour}"><path class="wave" style="opacity:.3" d="${pale}"/><path class="wave" d="${shape(music.fromSec, music.toSec)}"/></g>`;
}
