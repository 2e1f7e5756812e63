import { SESSION_RATE_HZ, secondsToFrames } from '../../core/signal/time.ts';
import { useBench } from '../desk/bench-store.ts';
import { useDesk } from '../desk/desk-store.ts';
import type { Shortcut } from '../help/shortcuts.ts';
import { usePlayback } from './playback-state.ts';
import { thePlayer } from './the-player.ts';

/** One press moves by so much, s. */
const STEP_SEC = 5;

/** Plays, or stops where it is. */
export function playOrStop(): void {
  if (usePlayback.getState().playing) thePlayer().pause();
  else void thePlayer().play();
}

/** Goes to the start of what is repeated, or of the session. */
export function toStart(): void {
  thePlayer().seek(usePlayback.getState().loop?.fromFrame ?? 0);
}

/** Repeats the selected stretch, or repeats nothing any more. */
export function repeatOrNot(): void {
  const { stretch } = useBench.getState();
  if (usePlayback.getState().loop !== null) thePlayer().setLoop(null);
  else if (stretch !== null) thePlayer().setLoop(framesOf(stretch));
}

/** Lets a voice be heard alone, besides others that are; or no more. */
export function hearAloneOrNot(voiceId: string): void {
  const { alone } = usePlayback.getState();
  thePlayer().setAlone(alone.includes(voiceId) ? alone.filter((id) => id !== voiceId) : [...alone, voiceId]);
}

/** A stretch in session frames. */
export function framesOf(stretch: { readonly fromSec: number; readonly toSec: number }): {
  fromFrame: number;
  toFrame: number;
} {
  return {
    fromFrame: Math.max(0, secondsToFrames(stretch.fromSec, SESSION_RATE_HZ)),
    toFrame: secondsToFrames(stretch.toSec, SESSION_RATE_HZ),
  };
}

function move(sec: number): void {
  thePlayer().seek(thePlayer().positionFrame() + sec * SESSION_RATE_HZ);
}

/** The keys of playback; the help lists them. */
export const playbackShortcuts: readonly Shortcut[] = [
  { keys: 'space', words: 'Play, or stop where it is', run: playOrStop },
  { keys: 'home', words: 'Back to the start', run: toStart },
  { keys: ',', words: `${STEP_SEC} seconds back`, run: () => move(-STEP_SEC) },
  { keys: '.', words: `${STEP_SEC} seconds on`, run: () => move(STEP_SEC) },
  { keys: 'r', words: 'Repeat the selected stretch, or no more', run: repeatOrNot },
  {
    keys: 'h',
    words: 'Hear the voice in hand alone, or no more',
    run: () => {
      const { voiceId } = useBench.getState();
      if (voiceId !== null && useDesk.getState().view !== null) hearAloneOrNot(voiceId);
    },
  },
];
