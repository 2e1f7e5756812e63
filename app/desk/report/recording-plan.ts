import type { GuidePlan, GuideSettings } from '../../../core/guide/guide-plan.ts';
import { SAFE_LISTENING } from '../../../core/guide/safe-listening.ts';
import type { Score } from '../../../core/guide/score.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { safe, time } from './markup.ts';
import { PAGE_STYLE } from './style.ts';

export { SAFE_LISTENING };

const PRINT_STYLE = `
  .sheet { max-width: 820px; } ol.order { columns: 2; } .boxes li { list-style: none; } .boxes li::before { content: "☐ "; }
  @media print { @page { size: A4; margin: 14mm; } main { padding: 0; } h1 { font-size: 1.5rem; } body { font-size: 13px; } }
`;

/** The one-page plan of a recording session, to print and lay beside the phone. */
export function recordingPlan(
  score: Score,
  plan: GuidePlan,
  settings: GuideSettings,
  files: readonly { readonly file: string; readonly voice: string | null }[],
): string {
  const at = (frame: number): string => time(frame / SESSION_RATE_HZ);
  const silenceSec = (plan.silence.toFrame - plan.silence.fromFrame) / SESSION_RATE_HZ;
  const claps = plan.cues.map((cue) => at(cue.clapFrame));
  const hasTuning = plan.tones.some((tone) => tone.what === 'tuning');
  const rows = [
    ['A soft tone', at(plan.tones[0]?.fromFrame ?? 0), 'Be still from here on.'],
    [
      `Silence, ${silenceSec.toFixed(0)} s`,
      `${at(plan.silence.fromFrame)} to ${at(plan.silence.toFrame)}`,
      'Do not play, move or speak. Partsong learns the noise of your room from it.',
    ],
    ...(hasTuning ? [['Tuning tone', at(tuningFrame(plan)), `A4 at ${settings.referenceHz} Hz. Tune to it.`]] : []),
    [
      'Three soft beats, then a gap',
      `clap at ${claps[0] ?? ''}`,
      'Clap once, sharply, where the fourth beat would be, near the phone.',
    ],
    ...(settings.countInBars > 0
      ? [
          [
            'Count-in',
            at(plan.countInFrame),
            `${settings.countInBars} ${settings.countInBars === 1 ? 'bar' : 'bars'} of clicks.`,
          ],
        ]
      : []),
    [
      'Music',
      `${at(plan.musicFrame)} to ${at(plan.musicEndFrame)}`,
      `${plan.bars.length} bars. Let the last note ring out.`,
    ],
    ...(claps.length > 1
      ? [['Three soft beats again', `clap at ${claps[1]}`, 'Clap once more: it keeps long takes together to the end.']]
      : []),
    ['End tone', at(plan.tones.at(-1)?.fromFrame ?? 0), 'Now stop the recording.'],
  ];
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Recording plan: ${safe(score.title)}</title><style>${PAGE_STYLE}${PRINT_STYLE}</style></head>
<body><main class="sheet">
<h1>${safe(score.title)}</h1>
<p class="lead">Recording plan, ${at(plan.lengthFrames)} a take</p>
<h2>Before the first take</h2>
<ul class="boxes">
<li>Close windows, switch off fans and fridges that you can, put other phones away.</li>
<li>Set the phone on something firm, one and a half to two metres from you, its microphone towards you and free. Keep the place for all voices of one size; mark it on the floor.</li>
<li>Switch off what you can of the camera's own sound processing; plug in the charger if the piece is long.</li>
<li>Play the guide in headphones from another device, on one ear if you like, and so softly that the phone does not hear it.</li>
<li>Record half a minute of your loudest passage and check it with <code>partsong check</code> before you play the whole piece.</li>
</ul>
<h2>Each take</h2>
<table><thead><tr><th>What you hear</th><th>When</th><th>What you do</th></tr></thead><tbody>
<tr><td>Nothing yet</td><td></td><td>Start the recording first, then the guide.</td></tr>
${rows.map(([what, when, act]) => `<tr><td>${safe(what!)}</td><td>${safe(when!)}</td><td>${safe(act!)}</td></tr>`).join('\n')}
</tbody></table>
${voicesSection(score, files)}
<h2>After each take</h2>
<ul class="boxes">
<li>Listen to its beginning: is the room quiet in the silence, is the clap one clear sound?</li>
<li>Listen to the loudest passage: no crackle.</li>
<li>Name the clip by its voice; keep second takes, Partsong lets you choose.</li>
</ul>
<p>${safe(SAFE_LISTENING)}</p>
</main></body></html>
`;
}

function tuningFrame(plan: GuidePlan): number {
  return plan.tones.find((tone) => tone.what === 'tuning')?.fromFrame ?? 0;
}

/** Voices in the order to record them: what carries the pitch first, from the lowest up (common practice, no source). */
function voicesSection(
  score: Score,
  files: readonly { readonly file: string; readonly voice: string | null }[],
): string {
  if (score.parts.length === 0) return '';
  const middle = (part: Score['parts'][number]): number =>
    part.notes.reduce((sum, note) => sum + note.key, 0) / Math.max(1, part.notes.length);
  const order = [...score.parts].sort((a, b) => middle(a) - middle(b));
  const items = order.map((part) => {
    const own = files.find((one) => one.voice === part.name);
    return `<li>${safe(part.name)}${own === undefined ? '' : ` <small>(${safe(own.file)})</small>`}</li>`;
  });
  return `<h2>Voices, in the order to record them</h2>
<p>From the lowest up: each next voice finds its pitch on those below.</p>
<ol class="order">${items.join('')}</ol>`;
}
