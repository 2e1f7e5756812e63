import type { FaultView } from '../../app/shell/contract/desk-view.ts';

function fault(code: string, message: string, nextStep: string): FaultView {
  return { code, message, nextStep, file: null };
}

/** What can go wrong with the sound, for people. */
export const playerFaults = {
  nothingToPlay: fault(
    'nothing-to-play',
    'There is no sound to play yet.',
    'Add takes, or wait until those you added are read.',
  ),
  heldBack: fault(
    'sound-held-back',
    'The browser holds the sound back.',
    'Press play once more; if it stays silent, allow this page to play sound, or plug in headphones.',
  ),
  unreadable: fault(
    'sound-unreadable',
    'The sound of a take could not be read; playback waits for it.',
    'Look at the Takes step for a clip that is missing; playback goes on by itself when the sound is there again.',
  ),
  deviceRefused: fault(
    'device-refused',
    'The sound device did not take the sound.',
    'Choose another device, or look whether it is plugged in.',
  ),
  deviceGone: fault(
    'device-gone',
    'The sound device you chose is gone, so playback stopped.',
    'Press play to go on with the output your system uses.',
  ),
  taken: fault('sound-taken', 'The system took the sound away, so playback stopped.', 'Press play to go on.'),
  broken: fault('sound-broken', 'The player met a fault and stopped.', 'Press play to start it anew.'),
  noSound: fault(
    'no-sound-output',
    'The sound could not be opened.',
    'Look whether headphones or speakers are there, then press play again.',
  ),
} as const;
