/** A clip's moving picture: stored size, pictures a second, how a player turns it, and pictures that are left out. */
export interface PicturePlan {
  readonly width: number;
  readonly height: number;
  readonly ratePerSec: number;
  /** Clockwise turn a player must make, degrees. */
  readonly rotationDegrees: 0 | 90;
  /** True when the telephone drops pictures now and then, so that the rate varies. */
  readonly skips: boolean;
  /** Red, green, blue of the voice, 0 to 255. */
  readonly voiceColour: readonly [number, number, number];
}

/** How many pictures the flash at the clap lasts. */
const FLASH_PICTURES = 3;

/** True when picture `n` is kept. `keepFilter` says the same to FFmpeg. */
export function isKept(plan: PicturePlan, n: number): boolean {
  return !plan.skips || !(n % 4 === 1 && n % 50 < 30);
}

/** FFmpeg's video filter that leaves out what `isKept` leaves out; empty when nothing is. */
export function keepFilter(plan: PicturePlan): string {
  return plan.skips ? "select='not(eq(mod(n,4),1)*lt(mod(n,50),30))'" : '';
}

/** Number of the first picture of the flash: the one whose time the clap falls in. */
function flashPicture(plan: PicturePlan, clapSec: number): number {
  return Math.floor(clapSec * plan.ratePerSec);
}

/** Clip time of the first picture with the flash that is kept. */
export function flashSec(plan: PicturePlan, clapSec: number): number {
  let n = flashPicture(plan, clapSec);
  while (!isKept(plan, n)) n++;
  return n / plan.ratePerSec;
}

/**
 * Draws picture `n` into `target` (RGB, 3 bytes a dot, stored way up): an evening sky that slowly turns, and a disc in
 * the voice's colour that grows with `loudness` (0 to 1).
 */
export function drawPicture(plan: PicturePlan, n: number, loudness: number, clapSec: number, target: Uint8Array): void {
  const t = n / plan.ratePerSec;
  const since = n - flashPicture(plan, clapSec);
  const flash = since >= 0 && since < FLASH_PICTURES ? 1 - since / (FLASH_PICTURES + 1) : 0;
  const turned = plan.rotationDegrees === 90;
  const shownWidth = turned ? plan.height : plan.width;
  const shownHeight = turned ? plan.width : plan.height;
  const centreX = shownWidth * (0.5 + 0.16 * Math.sin(0.23 * t));
  const centreY = shownHeight * (0.52 + 0.1 * Math.sin(0.31 * t + 1));
  const radius = Math.min(shownWidth, shownHeight) * (0.14 + 0.16 * loudness);
  const [red, green, blue] = plan.voiceColour;
  let at = 0;
  for (let y = 0; y < plan.height; y++) {
    for (let x = 0; x < plan.width; x++) {
      const shownX = turned ? plan.height - 1 - y : x;
      const shownY = turned ? x : y;
      const down = shownY / shownHeight;
      const sway = 0.08 * Math.sin(0.17 * t + (3 * shownX) / shownWidth);
      const dusk = Math.max(0, Math.min(1, down + sway));
      const inside = Math.max(0, Math.min(1, radius + 1 - Math.hypot(shownX - centreX, shownY - centreY)));
      const skyRed = 26 + 150 * dusk * dusk;
      const skyGreen = 30 + 75 * dusk;
      const skyBlue = 66 + 34 * dusk;
      target[at++] = lit(skyRed + inside * (red - skyRed), flash);
      target[at++] = lit(skyGreen + inside * (green - skyGreen), flash);
      target[at++] = lit(skyBlue + inside * (blue - skyBlue), flash);
    }
  }
}

function lit(value: number, flash: number): number {
  return value + flash * (255 - value);
}

/** Loudness of the sound around each picture, 0 to 1, smoothed. */
export function loudnessPerPicture(
  sound: Float64Array,
  rateHz: number,
  plan: PicturePlan,
  pictures: number,
): Float64Array {
  const result = new Float64Array(pictures);
  const span = rateHz / plan.ratePerSec;
  let most = 1e-9;
  let smooth = 0;
  for (let n = 0; n < pictures; n++) {
    let sum = 0;
    for (let i = Math.floor(n * span); i < Math.min(sound.length, Math.floor((n + 1) * span)); i++)
      sum += sound[i]! ** 2;
    smooth += 0.35 * (Math.sqrt(sum / span) - smooth);
    result[n] = smooth;
    most = Math.max(most, smooth);
  }
  return result.map((value) => value / most);
}
