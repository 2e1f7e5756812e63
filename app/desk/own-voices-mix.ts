import type { GuidePlan } from '../../core/guide/guide-plan.ts';
import { Limiter } from '../../core/mix/limiter.ts';
import type { Block } from '../../core/signal/block.ts';
import { SESSION_RATE_HZ } from '../../core/signal/time.ts';
import { openLaid } from '../work/laid-sound.ts';
import type { OpenSound } from '../work/sound-file.ts';
import type { OwnVoice } from './play-along.ts';

const BLOCK_FRAMES = 16384;
/** A take sounds from this long before the music to this long after it: what is around is handling and claps. */
const BEFORE_SEC = 0.3;
const AFTER_SEC = 1.5;
const FADE_SEC = 0.1;
const CEILING_DBTP = -1;

/**
 * Recorded takes within a guide: each faded in before the music and out after it, and the whole kept under -1 dBTP, since
 * takes have peaks that a mock-up has not. Blocks are to be given in order.
 */
export class OwnVoicesMix {
  readonly #voices: readonly { readonly sound: OpenSound; readonly gain: number }[];
  readonly #limiter = new Limiter({ rateHz: SESSION_RATE_HZ, channels: 1, ceilingDbtp: CEILING_DBTP });
  readonly #fromFrame: number;
  readonly #toFrame: number;
  readonly #scratch = new Float32Array(BLOCK_FRAMES);
  #frame = 0;

  /** partGainsDb: as for the mock-up; a take sounds with the gain of its part. To be closed. */
  constructor(voices: readonly OwnVoice[], plan: GuidePlan, partGainsDb: Readonly<Record<string, number>>) {
    this.#fromFrame = Math.round(plan.musicFrame - BEFORE_SEC * SESSION_RATE_HZ);
    this.#toFrame = Math.round(plan.musicEndFrame + AFTER_SEC * SESSION_RATE_HZ);
    const opened: { sound: OpenSound; gain: number }[] = [];
    this.#voices = opened;
    try {
      for (const { partId, laid, gain } of voices) {
        const partGainDb = partGainsDb[partId] ?? 0;
        if (partGainDb === Number.NEGATIVE_INFINITY) continue;
        opened.push({ sound: openLaid(laid), gain: gain * 10 ** (partGainDb / 20) });
      }
    } catch (error) {
      this.close();
      throw error;
    }
  }

  /** Adds the takes to a block of the guide (at most 16384 frames); gives what has become ready. */
  process(block: Float32Array): Block {
    for (const { sound, gain } of this.#voices) {
      const part = this.#scratch.subarray(0, block.length);
      sound.read(this.#frame, part);
      for (let n = 0; n < block.length; n++) block[n]! += gain * this.#fadeAt(this.#frame + n) * part[n]!;
    }
    this.#frame += block.length;
    return this.#limiter.process([block]);
  }

  flush(): Block {
    return this.#limiter.flush();
  }

  close(): void {
    for (const { sound } of this.#voices) sound.close();
  }

  #fadeAt(frame: number): number {
    const fade = FADE_SEC * SESSION_RATE_HZ;
    const share = Math.min(1, (frame - this.#fromFrame) / fade, (this.#toFrame - frame) / fade);
    return share <= 0 ? 0 : 0.5 - 0.5 * Math.cos(Math.PI * share);
  }
}
