import type { CallInput } from '../../../app/shell/contract/calls.ts';
import type { DeskView } from '../../../app/shell/contract/desk-view.ts';
import { SESSION_RATE_HZ } from '../../../core/signal/time.ts';
import { soundingTake } from '../../desk/desk-store.ts';

/** What the user chose for a render. */
export type RenderChoices = CallInput<'render'>;

export interface PlannedFile {
  readonly what: 'mix' | 'copy' | 'stems' | 'report';
  /** What it is, in words. */
  readonly words: string;
  readonly count: number;
  readonly lengthSec: number | null;
  /** About; null where it is small. */
  readonly sizeBytes: number | null;
}

export interface LeftOut {
  readonly voice: string;
  readonly why: string;
}

export interface RenderPlan {
  readonly files: readonly PlannedFile[];
  readonly leftOut: readonly LeftOut[];
  /** How many voices sound in the mix. */
  readonly sounding: number;
  /** Why nothing can be rendered; null when it can. */
  readonly blocked: string | null;
}

const BYTES: Readonly<Record<RenderChoices['wave'], number>> = { pcm16: 2, pcm24: 3, float32: 4 };
/** What copies are packed with, kbit/s. */
const COPY_KBPS = 320;
/** A FLAC of music takes about this share of its 24 bit. */
const FLAC_SHARE = 0.6;
const waveWords: Readonly<Record<RenderChoices['wave'], string>> = {
  pcm24: 'WAV, 24 bit',
  pcm16: 'WAV, 16 bit',
  float32: 'WAV, 32 bit float',
};

/** What a render will make, how long and about how large, and what it leaves out and why. */
export function renderPlan(view: DeskView, choices: RenderChoices): RenderPlan {
  const leftOut = leftOutOf(view);
  const sounding = view.session.voices.length - leftOut.length;
  const { span, lengthFrames } = view.blend ?? { span: null, lengthFrames: 0 };
  const lengthSec = lengthFrames / SESSION_RATE_HZ;
  const heardSec = span === null ? lengthSec : span.toSec - span.fromSec;
  const files: PlannedFile[] = [
    {
      what: 'mix',
      words: `The mix: ${waveWords[choices.wave]}, stereo, 48 kHz`,
      count: 1,
      lengthSec,
      sizeBytes: lengthSec * SESSION_RATE_HZ * 2 * BYTES[choices.wave],
    },
  ];
  if (choices.copy !== null) {
    files.push({
      what: 'copy',
      words: `A copy for upload: ${choices.copy.toUpperCase()}, from the first note to the last`,
      count: 1,
      lengthSec: heardSec,
      sizeBytes:
        choices.copy === 'flac' ? heardSec * SESSION_RATE_HZ * 2 * 3 * FLAC_SHARE : (heardSec * COPY_KBPS * 1000) / 8,
    });
  }
  if (choices.stems && sounding > 0) {
    files.push({
      what: 'stems',
      words: `${sounding === 1 ? 'A stem' : `${sounding} stems, one a voice`}: WAV, 32 bit float, mono`,
      count: sounding,
      lengthSec,
      sizeBytes: sounding * lengthSec * SESSION_RATE_HZ * 4,
    });
  }
  files.push({
    what: 'report',
    words: 'A report of what was done to each take',
    count: 1,
    lengthSec: null,
    sizeBytes: null,
  });
  return { files, leftOut, sounding, blocked: blockedBy(view, sounding) };
}

function blockedBy(view: DeskView, sounding: number): string | null {
  if (view.session.voices.length === 0) return 'There are no voices yet. Add clips in Takes.';
  if (sounding === 0) return 'No voice would sound. Look at what is left out.';
  return view.blend === null ? 'The voices are still being read and balanced.' : null;
}

function leftOutOf(view: DeskView): LeftOut[] {
  const { session, takes, blend } = view;
  return session.voices.flatMap((voice): LeftOut[] => {
    const why = (): string | null => {
      if (voice.muted) return 'it is muted.';
      const take = soundingTake(session, voice);
      if (take === undefined) {
        return session.takes.some((one) => one.voiceId === voice.id)
          ? 'none of its takes is chosen. Choose one in Takes.'
          : 'it has no take.';
      }
      const facts = takes[take.id];
      if (facts?.state === 'missing') return `the clip of ${take.name} is missing. Find it again in Takes.`;
      if (facts?.state === 'faulty') return `the clip of ${take.name} cannot be used.`;
      const finding = blend?.voices.find((one) => one.voiceId === voice.id);
      if (finding?.leftOut === true) return `nobody knows where ${take.name} lies in time. Place it in Line up.`;
      return null;
    };
    const reason = why();
    return reason === null ? [] : [{ voice: voice.name, why: reason }];
  });
}

/** Where renders go when no other folder is chosen, written as the system of the session's folder writes paths. */
export function usualFolder(sessionFolder: string): string {
  return `${sessionFolder}${sessionFolder.includes('\\') ? '\\' : '/'}renders`;
}

/** A size for people: "about 18 MB". */
export function sizeWords(bytes: number): string {
  if (bytes < 950_000) return `${Math.max(1, Math.round(bytes / 1000))} kB`;
  if (bytes < 9_500_000) return `${(bytes / 1e6).toFixed(1)} MB`;
  if (bytes < 950_000_000) return `${Math.round(bytes / 1e6)} MB`;
  return `${(bytes / 1e9).toFixed(1)} GB`;
}
