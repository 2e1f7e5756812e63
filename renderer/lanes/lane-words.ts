import { clock } from '../parts/numbers.ts';
import type { Lane, Scene, Stretch } from './lane-scene.ts';

/**
 * A lane in one sentence, for people who hear the screen: "Soprano recorder, lead, take 2 of 3, placed at 0:00.412,
 * silence from 0:01.0 to 0:04.0".
 */
export function laneInWords(lane: Lane): string {
  const words: string[] = [];
  if (lane.voice !== null) {
    words.push(lane.kind === 'take' ? `${lane.take?.name ?? 'take'} of ${lane.voice.name}` : lane.voice.name);
    if (lane.kind === 'voice') words.push(lane.voice.role);
    if (lane.voice.muted) words.push('muted');
  }
  if (lane.takeNumber > 0) words.push(`take ${lane.takeNumber} of ${lane.takeCount}`);
  if (lane.kind === 'take') words.push(lane.sounds ? 'this take sounds' : 'not used');
  if (lane.kind === 'voice' && lane.passages != null && lane.passages.joins.length > 0) {
    const { firstNumber, joins } = lane.passages;
    words.push(
      `made of passages: take ${firstNumber}${joins.map((join) => `, take ${join.takeNumber} from ${clock(join.atSec, 2)}`).join('')}`,
    );
  }
  if (lane.words !== null) words.push(lane.words.replace(/\.$/, ''));
  if (lane.take !== null) {
    const { placement } = lane.take;
    words.push(
      placement === null
        ? 'not lined up yet'
        : `placed at ${clock(placement.offsetSec, 3)}${placement.by === 'user' ? ' by hand' : ''}`,
    );
  }
  if (lane.silence !== null) words.push(`${lane.silence.label} from ${spanInWords(lane.silence)}`);
  if (lane.clapSec !== null) words.push(`clap at ${clock(lane.clapSec, 3)}`);
  const pins = lane.pins ?? [];
  if (pins.length > 0) words.push(`pinned at ${pins.map((sec) => clock(sec, 2)).join(' and ')}`);
  if (lane.music !== null) words.push(`music from ${spanInWords(lane.music)}`);
  if (lane.clipped.length > 0)
    words.push(`clipped in ${lane.clipped.length} ${lane.clipped.length === 1 ? 'spot' : 'spots'}`);
  if (lane.question !== null) words.push(`look here: ${lane.question.replace(/\.$/, '')}`);
  return words.join(', ');
}

/** "0:01.0 to 0:04.0" */
export function spanInWords(span: Stretch, digits = 1): string {
  return `${clock(span.fromSec, digits)} to ${clock(span.toSec, digits)}`;
}

/** The guide line in one sentence. */
export function guideInWords(scene: Scene): string {
  if (scene.guide.words !== null) return `Guide: ${scene.guide.words}`;
  if (scene.guide.wave === null) return 'No guide: the voices are lined up with one another';
  const { silence, shades } = scene.guide;
  const words = ['Guide'];
  if (silence !== null) words.push(`silence from ${spanInWords(silence)}`);
  for (const { label, clapSec, fromSec } of shades ?? []) {
    words.push(clapSec === null ? `${label} from ${clock(fromSec, 1)}` : `clap at ${clock(clapSec, 1)}`);
  }
  const first = scene.bars[0];
  if (first !== undefined) words.push(`${scene.bars.length} bars from ${clock(first.sec, 1)}`);
  return words.join(', ');
}
