import { assertInRange } from '../signal/fault.ts';
import type { RuleName } from './gain-rule.ts';

/** How strongly a take is cleaned: gentle leaves more of the room, firm leaves least. */
export type Character = 'gentle' | 'even' | 'firm';

/** What the cleaner is told. A character sets all of it; each can be changed alone. */
export interface CleanSettings {
  readonly rule: RuleName;
  /** The most a bin is turned down, dB, 0 to 60. Where only noise is, it is turned down by just this. */
  readonly reductionDb: number;
  /** How far the prior ratio leans on the frames around, 0.8 to 0.99. More is smoother and slower. */
  readonly steadiness: number;
  /** Smallest prior ratio, dB, -40 to 0. */
  readonly priorFloorDb: number;
  /** By how much the learnt noise is taken for stronger than measured, dB, -6 to 12. */
  readonly marginDb: number;
  /** Hum lines and whistles are taken for this much stronger still, dB, 0 to 20: they may swell. */
  readonly lineMarginDb: number;
  /** Follow noise that gets louder or softer during the take. */
  readonly follow: boolean;
  /** Restore the tops of clipped waves. */
  readonly restoreClipped: boolean;
}

const CHARACTERS: Record<Character, Pick<CleanSettings, 'reductionDb' | 'steadiness' | 'marginDb' | 'lineMarginDb'>> = {
  gentle: { reductionDb: 15, steadiness: 0.92, marginDb: -0.5, lineMarginDb: 2 },
  even: { reductionDb: 26, steadiness: 0.95, marginDb: 0, lineMarginDb: 3 },
  firm: { reductionDb: 36, steadiness: 0.96, marginDb: 1, lineMarginDb: 5 },
};

/** The settings of a character, with the rule of choice (log-spectral amplitude when none is named). */
export function settingsOf(character: Character, rule: RuleName = 'lsa'): CleanSettings {
  return { rule, priorFloorDb: -36, follow: true, restoreClipped: true, ...CHARACTERS[character] };
}

/** Throws RangeError naming the setting that lies outside its range. */
export function checkSettings(settings: CleanSettings): void {
  assertInRange('reductionDb', settings.reductionDb, 0, 60);
  assertInRange('steadiness', settings.steadiness, 0.8, 0.99);
  assertInRange('priorFloorDb', settings.priorFloorDb, -40, 0);
  assertInRange('marginDb', settings.marginDb, -6, 12);
  assertInRange('lineMarginDb', settings.lineMarginDb, 0, 20);
}
