import { type CheckFinding, finding, tenth } from './check-finding.ts';
import type { CheckInput } from './check-input.ts';
import { type Levels, pumpingOf, rumbleOf } from './check-levels.ts';
import { toneFindings } from './tone-findings.ts';

/*
 * Bounds of the verdict. Common practice, no source, set on takes with known faults: a phone's take is healthy with peaks
 * from -3 to -20 dBFS, a noise 20 dB and more below the music, an echo of about a second at most.
 */
const LOUD_PEAK_DBFS = -1;
const QUIET_LOUDEST_DBFS = -38;
const LOST_SNR_DB = 12;
const POOR_SNR_DB = 20;
const SHORTEST_SILENCE_SEC = 1;
const CLAP_LIKENESS = 0.45;
const LONG_ECHO_SEC = 1.1;
const BLEED_DB = -36;

/** Is there room noise to learn from? */
export function silenceFindings(input: CheckInput): CheckFinding[] {
  const first = input.silences[0];
  if (first === undefined) {
    const why = {
      'all music': 'no stretch was found in which nobody plays',
      'too short': 'the quiet at the beginning is too short to learn the room from',
      'holds music': 'what should be silence holds other sounds',
      'digital silence': 'the quiet parts hold nothing at all, not even the room',
    }[input.noSilence ?? 'all music'];
    return [
      finding(
        'noSilence',
        'mend',
        `There is no usable silence: ${why}.`,
        'Stay still for three to five seconds before the clap.',
      ),
    ];
  }
  const lengthSec = first.toSec - first.fromSec;
  if (lengthSec >= SHORTEST_SILENCE_SEC) return [];
  return [
    finding(
      'noSilence',
      'mend',
      `The longest silence lasts only ${lengthSec.toFixed(1)} s.`,
      'Stay still for three to five seconds before the clap.',
    ),
  ];
}

/** Is the music there, loud enough and not too loud? */
export function levelFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  if (levels.loudestDbfs === Number.NEGATIVE_INFINITY) {
    return [
      finding(
        'noMusic',
        'again',
        'No music was found in this clip.',
        'Play a loud passage of the piece for the check, and see that the right microphone is on.',
      ),
    ];
  }
  if (input.clippedSamples !== null) {
    found.push(
      finding(
        'clipped',
        'again',
        `The recorder cut off the tops of waves (${input.clippedSamples} samples): it crackles.`,
        'Move the phone further away or turn it aside; where the camera app has a level, lower it.',
      ),
    );
  } else if (levels.peakDbfs > LOUD_PEAK_DBFS) {
    found.push(
      finding(
        'tooLoud',
        'mend',
        `The loudest peak is at ${tenth(levels.peakDbfs)} dBFS, with no room above.`,
        'Move the phone a step further away, so that a louder note does not crackle.',
      ),
    );
  }
  if (levels.loudestDbfs < QUIET_LOUDEST_DBFS) {
    found.push(
      finding(
        'tooQuiet',
        'mend',
        `Even the loudest passage reaches only ${tenth(levels.loudestDbfs)} dBFS.`,
        'Bring the phone nearer, and see that nothing covers its microphone.',
      ),
    );
  }
  return found;
}

/** Noise, hum, whistles, rumble, echo, and a phone that meddles. */
export function noiseFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  const { snrDb } = levels;
  if (snrDb !== null && snrDb < POOR_SNR_DB) {
    found.push(
      finding(
        'noisy',
        snrDb < LOST_SNR_DB ? 'again' : 'mend',
        `The music stands only ${Math.round(snrDb)} dB above the noise of the room.`,
        'Bring the phone nearer, close windows, and switch off fans and machines.',
      ),
    );
  }
  found.push(...toneFindings(input, levels));
  const rumble = rumbleOf(input);
  if (rumble !== undefined) {
    found.push(
      finding(
        'rumble',
        'mend',
        `Wind, steps or handling rumble below 35 Hz in ${Math.round(100 * rumble)} % of the take.`,
        'Put the phone on something soft and firm, out of any draught, and do not touch it while recording.',
      ),
    );
  }
  if (input.echoSec !== null && input.echoSec > LONG_ECHO_SEC) {
    found.push(
      finding(
        'echo',
        'mend',
        `The room rings for about ${input.echoSec.toFixed(1)} s.`,
        'Play nearer to the phone, and hang up or lay out something soft: curtains, blankets, an open wardrobe.',
      ),
    );
  }
  const drop = pumpingOf(input, levels);
  if (drop !== undefined) {
    found.push(
      finding(
        'pumping',
        'mend',
        `The phone changes its level by itself: the noise in the pauses lies ${Math.round(drop)} dB under that of the silence.`,
        'Switch off automatic gain, noise reduction or "voice" mode in the camera app, or use a plain recorder app.',
      ),
    );
  }
  if (input.digitalSilenceSec > 0.2) {
    found.push(
      finding(
        'gated',
        'mend',
        `In ${input.digitalSilenceSec.toFixed(1)} s of the take every sample is zero: something mutes the microphone.`,
        'Switch off noise reduction or "voice" mode in the camera app, or use a plain recorder app.',
      ),
    );
  }
  return found;
}

/** What the fold of two channels told. */
export function channelFindings(input: CheckInput): CheckFinding[] {
  if (input.fold === 'dead') {
    return [
      finding(
        'deadChannel',
        'know',
        'One of the two channels carries no sound.',
        'Check the plug of an outside microphone; Partsong uses the other channel.',
      ),
    ];
  }
  if (input.fold === 'opposite') {
    return [
      finding(
        'turnedChannel',
        'know',
        'One of the two channels is upside down (opposite polarity).',
        'Check the cable or adapter of an outside microphone; Partsong turns it back.',
      ),
    ];
  }
  return [];
}

/** The clap, and a guide that leaks. */
export function cueFindings(input: CheckInput, levels: Levels): CheckFinding[] {
  const found: CheckFinding[] = [];
  if (input.clap === null || input.clap.likeness < CLAP_LIKENESS) {
    found.push(
      finding(
        'noClap',
        'mend',
        'No clear clap was found before the music.',
        'Clap once, sharply, after the silence and before you play.',
      ),
    );
  }
  if (input.bleedDbfs !== null && input.bleedDbfs - levels.musicDbfs > BLEED_DB) {
    found.push(
      finding(
        'bleed',
        'mend',
        `The guide can be heard from your headphones, ${Math.round(levels.musicDbfs - input.bleedDbfs)} dB under your music.`,
        'Turn the guide down or use closed headphones; softer is safer for your ears, too.',
      ),
    );
  }
  return found;
}
