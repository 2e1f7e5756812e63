import { bendWords, residualWarning } from '../../../core/session/offset-curve.ts';
import type { PlacementReport, Report, TakeReport } from '../../../core/session/report.ts';
import { sessionSecOf } from '../../../core/signal/clock.ts';
import { isUnplaced, placedWords } from '../placement.ts';
import { loudnessChart, noiseChart } from './charts.ts';
import { lanesPicture, type Waveform } from './lanes.ts';
import { level, safe, sentences, time } from './markup.ts';
import { offsetChart } from './offsets.ts';
import { PAGE_STYLE, VOICE_COLOURS } from './style.ts';

/**
 * The report as one page that needs nothing from elsewhere: no script, no font, no picture file.
 * waveforms: in the order of report.takes; undefined draws an empty staff.
 */
export function reportPage(report: Report, waveforms: readonly (Waveform | undefined)[]): string {
  const asking = report.takes.filter((take) => take.placement?.question);
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${safe(report.title)}: what was done</title><style>${PAGE_STYLE}</style></head><body><main>
<h1>${safe(report.title)}</h1>
<p class="lead">${summary(report)}</p>
${asking.map(question).join('')}
${mixFigures(report)}
${sentences(report.notes)}
<h2>The takes, lined up</h2>
${lanesPicture(report, waveforms)}
<h2>The balance</h2>
${balance(report)}
<h2>Each take</h2>
${report.takes.map(takeCard).join('\n')}
<h2>The mix</h2>
${loudnessChart(report.mix)}
${copies(report)}
<h2>Words used here</h2>
${WORDS}
</main></body></html>
`;
}

function summary(report: Report): string {
  const count = report.takes.length;
  return `${count === 1 ? 'One take' : `${count} takes`}, ${time(report.mix.lengthSec)} on the session's time line`;
}

function question(take: TakeReport): string {
  return `<div class="ask" role="note"><strong>A question about ${safe(take.voice)}:</strong> ${safe(take.placement?.question ?? '')}</div>`;
}

function mixFigures({ mix }: Report): string {
  const figures: readonly (readonly [string, string])[] = [
    ['Loudness of the whole', level(mix.integratedLufs, 'LUFS')],
    ['Target', level(mix.targetLufs, 'LUFS')],
    ['True peak', level(mix.truePeakDbtp, 'dBTP')],
    ['Ceiling', level(mix.ceilingDbtp, 'dBTP')],
    ['Loudness range', level(mix.rangeLu, 'LU')],
    ['Limiter took at most', level(mix.limiterMaxDb, 'dB')],
  ];
  return `<dl class="figures">${figures.map(([name, value]) => `<div><dt>${name}</dt><dd>${value}</dd></div>`).join('')}</dl>`;
}

function balance(report: Report): string {
  const hasStems = report.takes.some(({ stemTruePeakDbtp }) => stemTruePeakDbtp !== undefined);
  const rows = report.takes.map(
    (take) => `<tr><td>${safe(take.voice)}</td><td>${safe(take.role)}</td>
<td class="number">${level(take.loudness.integratedLufs, 'LUFS')}</td><td class="number">${level(take.gainDb, 'dB', true)}</td>
${hasStems ? `<td class="number">${stemPeak(take)}</td>` : ''}<td>${placeWords(take.placeDeg)}</td></tr>`,
  );
  return `<table><caption>How loud each cleaned voice was, and what it was given in the mix.</caption>
<thead><tr><th scope="col">voice</th><th scope="col">role</th><th class="number" scope="col">loudness as played</th><th class="number" scope="col">gain in the mix</th>${hasStems ? '<th class="number" scope="col">true peak of its stem</th>' : ''}<th scope="col">place on the stage</th></tr></thead>
<tbody>${rows.join('')}</tbody></table>${report.takes.some(passesFullScale) ? LOUD_STEM : ''}`;
}

function stemPeak({ stemTruePeakDbtp }: TakeReport): string {
  return stemTruePeakDbtp === undefined ? '–' : level(stemTruePeakDbtp, 'dBTP', true);
}

function passesFullScale({ stemTruePeakDbtp }: TakeReport): boolean {
  return (stemTruePeakDbtp ?? 0) > 0;
}

const LOUD_STEM =
  '<p>A stem above 0 dBTP passes full scale. Nothing of it is lost in its file, whose samples are floats; turn it down before it is made 16 or 24 bit.</p>';

/** A stage angle in words. */
export function placeWords(degrees: number): string {
  if (Math.abs(degrees) < 0.5) return 'centre';
  return `${Math.abs(degrees).toFixed(0)}° ${degrees < 0 ? 'left' : 'right'}`;
}

function takeCard(take: TakeReport, index: number): string {
  return `<section class="take" style="border-color:${VOICE_COLOURS[index % 6]}"><h3>${safe(take.voice)}</h3>
<p>${safe(take.file)}${take.part === undefined ? '' : `, from ${time(take.part.fromSec)} to ${time(take.part.toSec)}`}, ${time(take.lengthSec)}</p>
<div class="two"><div>${noiseWords(take)}${take.noise === null ? '' : noiseChart(take.noise)}</div>
<div>${placementTable(take)}</div></div>${offsetsOf(take)}${sentences(take.notes)}</section>`;
}

function noiseWords(take: TakeReport): string {
  const { noise, silence } = take;
  if (noise === null) return '<p>Not cleaned.</p>';
  const how = { found: 'found by itself', given: 'given by you', guide: 'found where the guide has it' };
  const where =
    silence === null
      ? ''
      : silence.how === 'clip'
        ? 'The room alone was heard elsewhere in the clip. '
        : `The room alone was heard from ${time(silence.fromSec)} to ${time(silence.toSec)} of the take (${how[silence.how]}). `;
  const hum = noise.humHz === null ? '' : `Mains hum at ${noise.humHz.toFixed(1)} Hz was taken out by itself. `;
  const harm =
    noise.harmDb === null ? '' : `The harm to the music is estimated at ${level(noise.harmDb, 'dB')} below it. `;
  const musical =
    noise.kurtosisRatio === null
      ? ''
      : `Musical-noise index ${noise.kurtosisRatio.toFixed(2)} (1 is none, larger is more).`;
  return `<p>${where}Its noise lay at ${level(noise.levelDbfs, 'dBFS')} and is ${level(noise.reducedDb, 'dB')} lower now. ${hum}${harm.replace('−', '')}${musical}</p>`;
}

function placementTable(take: TakeReport): string {
  const { placement } = take;
  if (placement === null) return '<p>Not placed.</p>';
  const rows = placement.evidence.map(
    (one) =>
      `<tr><td>${one.kind === 'user' ? 'you' : safe(one.kind)}${one.accepted ? '' : ' (not used)'}</td><td class="number">${time(one.takeSec)}</td><td class="number">± ${(one.uncertaintySec * 1000).toFixed(1)} ms</td><td>${safe(one.note)}</td></tr>`,
  );
  const drift =
    Math.abs(placement.driftPpm) < 0.5
      ? "Its clock keeps the session's time."
      : `Its clock runs ${Math.abs(placement.driftPpm).toFixed(0)} ppm ${placement.driftPpm > 0 ? 'fast' : 'slow'}, which is corrected.`;
  const { residualSec } = placement;
  const within = residualSec === undefined ? '' : `; any moment of it within ${(1000 * residualSec).toFixed(1)} ms`;
  if (isUnplaced(placement)) return `<p>Its place is not known. ${safe(placement.question ?? '')}</p>`;
  return `<p>The clip begins ${beginning(placement.offsetSec)}, placed ${placedWords(placement)}${within}. ${drift}${changes(placement)}</p>
<table><caption>The evidence for it</caption><thead><tr><th scope="col">witness</th><th class="number" scope="col">take time</th><th class="number" scope="col">exact to</th><th scope="col">what it says</th></tr></thead><tbody>${rows.join('')}</tbody></table>`;
}

/** The curve of offset over time, with what is to be looked at in it; nothing where nothing was heard along the take. */
function offsetsOf({ placement, lengthSec }: TakeReport): string {
  if (placement === null || isUnplaced(placement)) return '';
  const warning = residualWarning(placement);
  const look = warning === null ? '' : `<p class="ask"><strong>Look here:</strong> ${safe(warning)}</p>`;
  return `${look}${offsetChart(placement, lengthSec)}`;
}

/** The changes of a take's clock in words; nothing where it runs evenly. */
function changes(placement: PlacementReport): string {
  const bends = placement.bends ?? [];
  if (bends.length === 0) return '';
  const words = bends.map(
    (bend, n) =>
      `${bendWords(bend, bends[n - 1]?.driftPpm ?? placement.driftPpm)} at ${time(sessionSecOf(placement, bend.takeSec))}`,
  );
  return ` Its clock changes, which is mended: ${words.join('; ')}.`;
}

function beginning(offsetSec: number): string {
  return offsetSec < 0 ? `${time(-offsetSec)} before the session does` : `at ${time(offsetSec)} of the session`;
}

function copies(report: Report): string {
  if (report.mix.copies.length === 0) return '';
  const rows = report.mix.copies.map(
    (copy) =>
      `<tr><td>${safe(copy.file)}</td><td class="number">${time(copy.lengthSec)}</td><td class="number">${level(copy.integratedLufs, 'LUFS')}</td><td class="number">${level(copy.truePeakDbtp, 'dBTP')}</td></tr>`,
  );
  return `<table><caption>Copies for upload, cut to the music and measured as they will be heard. Publish only music you have the rights to; local rules decide.</caption>
<thead><tr><th scope="col">file</th><th class="number" scope="col">length</th><th class="number" scope="col">loudness</th><th class="number" scope="col">true peak</th></tr></thead><tbody>${rows.join('')}</tbody></table>`;
}

const WORDS = `<dl class="words">
<dt>LUFS, LU</dt><dd>Loudness as ears weigh it (ITU-R BS.1770); 1 LU is 1 dB of it. The target is a level that players of music uploads commonly turn to; −14 LUFS is common practice, not a standard.</dd>
<dt>True peak, ceiling (dBTP)</dt><dd>The highest point of the sound between the samples too. It stays under the ceiling so that nothing distorts later.</dd>
<dt>Limiter</dt><dd>Turns the mix down for a moment where a peak would pass the ceiling. A few dB now and then are not heard; much more flattens the music.</dd>
<dt>Silence, noise</dt><dd>A stretch in which nobody plays: it shows what the room and the phone add, and that is taken out.</dd>
<dt>Clap, bleed, onsets</dt><dd>What fixes the time of a take: your clap on the cue, the guide heard faintly from your headphones, the beginnings of your notes.</dd>
<dt>Drift (ppm)</dt><dd>Two devices' clocks never agree; 100 ppm are 6 ms in a minute.</dd>
</dl>`;
