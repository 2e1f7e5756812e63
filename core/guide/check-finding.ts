export type CheckCode =
  | 'clipped'
  | 'tooLoud'
  | 'tooQuiet'
  | 'noMusic'
  | 'noSilence'
  | 'noClap'
  | 'noisy'
  | 'hum'
  | 'whistle'
  | 'rumble'
  | 'echo'
  | 'pumping'
  | 'gated'
  | 'deadChannel'
  | 'turnedChannel'
  | 'bleed';

/** 'again': the take is lost so; 'mend': worth changing before the next one; 'know': Partsong copes, but it is there. */
export type CheckWeight = 'again' | 'mend' | 'know';

export interface CheckFinding {
  readonly code: CheckCode;
  readonly weight: CheckWeight;
  /** What is the matter, one sentence with its figure. */
  readonly what: string;
  /** What to change, one sentence. */
  readonly change: string;
}

/** A finding from its parts. */
export function finding(code: CheckCode, weight: CheckWeight, what: string, change: string): CheckFinding {
  return { code, weight, what, change };
}

/** A level to a tenth, with a true minus. */
export function tenth(value: number): string {
  return value.toFixed(1).replace('-', '−');
}
