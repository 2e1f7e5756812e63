import { RealFft } from '../core/signal/fft.ts';
import { Random } from '../core/signal/random.ts';

const SOUND_SPEED = 343;
/** Early reflections are drawn one by one up to here, the diffuse tail is whole from here on. */
const JOIN_FROM_SEC = 0.022;
const JOIN_TO_SEC = 0.04;
/** High frequencies die away faster: air, curtains, books. */
const HIGH_T60_RATIO = 0.55;
const HIGH_FROM_HZ = 2500;

type Place = readonly [x: number, y: number, z: number];

/** A room in a home: a box, a reverberation time below 2.5 kHz, and where player and telephone are, metres. */
export interface Room {
  readonly size: Place;
  readonly t60Sec: number;
  readonly player: Place;
  readonly phone: Place;
  readonly seed: number;
}

function distance(a: Place, b: Place): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

/** Reflection of a wall (amplitude) that gives the box its T60. Source: Eyring, J. Acoust. Soc. Am. 1, 1930. */
function wallRatio({ size: [x, y, z], t60Sec }: Room): number {
  const volume = x * y * z;
  const surface = 2 * (x * y + y * z + z * x);
  return Math.sqrt(Math.exp((-0.161 * volume) / (surface * t60Sec)));
}

/**
 * Impulse response from player to telephone at `rateHz`; the direct sound is 1 at frame 0, its travel time left out.
 * Reflections by image sources (Allen and Berkley, J. Acoust. Soc. Am. 65, 1979), then seeded Gaussian noise whose
 * power follows the density of the images, 4 pi c / V, and decays with T60.
 */
export function roomResponse(room: Room, rateHz: number): Float64Array {
  const response = new Float64Array(Math.ceil(1.1 * room.t60Sec * rateHz));
  const direct = distance(room.player, room.phone);
  addImages(response, room, direct, rateHz);
  addTail(response, room, direct, rateHz);
  response[0]! += 1;
  return response;
}

function fadeToTail(t: number): number {
  const x = Math.max(0, Math.min(1, (t - JOIN_FROM_SEC) / (JOIN_TO_SEC - JOIN_FROM_SEC)));
  return Math.sin(0.5 * Math.PI * x);
}

function addImages(response: Float64Array, room: Room, direct: number, rateHz: number): void {
  const wall = wallRatio(room);
  const order = 5;
  for (let i = -order; i <= order; i++) {
    for (let j = -order; j <= order; j++) {
      for (let k = -order; k <= order; k++) {
        const bounces = Math.abs(i) + Math.abs(j) + Math.abs(k);
        if (bounces === 0) continue;
        const image = mirrored(room, i, j, k);
        const path = distance(image, room.phone);
        const t = (path - direct) / SOUND_SPEED;
        if (t >= JOIN_TO_SEC) continue;
        const keep = Math.sqrt(1 - fadeToTail(t) ** 2);
        const frame = t * rateHz;
        const whole = Math.floor(frame);
        const ratio = (keep * wall ** bounces * direct) / path;
        response[whole]! += ratio * (1 - frame + whole);
        response[whole + 1]! += ratio * (frame - whole);
      }
    }
  }
}

function mirrored({ size, player }: Room, i: number, j: number, k: number): Place {
  const along = (axis: 0 | 1 | 2, n: number): number =>
    n % 2 === 0 ? n * size[axis] + player[axis] : (n + 1) * size[axis] - player[axis];
  return [along(0, i), along(1, j), along(2, k)];
}

function addTail(response: Float64Array, room: Room, direct: number, rateHz: number): void {
  const random = new Random(room.seed);
  const volume = room.size[0] * room.size[1] * room.size[2];
  const start = direct * Math.sqrt((4 * Math.PI * SOUND_SPEED) / (volume * rateHz));
  const lowKeep = Math.exp((-2 * Math.PI * HIGH_FROM_HZ) / rateHz);
  let low = 0;
  for (let n = 0; n < response.length; n++) {
    const t = n / rateHz;
    const white = random.gaussian();
    low += (1 - lowKeep) * (white - low);
    // The images have travelled since before the direct sound came in.
    const travelled = t + direct / SOUND_SPEED;
    const lowDecay = Math.exp((-6.908 * travelled) / room.t60Sec);
    const highDecay = Math.exp((-6.908 * travelled) / (room.t60Sec * HIGH_T60_RATIO));
    response[n]! += start * fadeToTail(t) * (low * lowDecay + (white - low) * highDecay);
  }
}

/** Convolution by overlap-add; the result is as long as the sound. */
export function convolve(sound: Float64Array, response: Float64Array): Float64Array {
  let size = 8;
  while (size < 4 * response.length) size *= 2;
  const fft = new RealFft(size);
  const step = size - response.length + 1;
  const [hRe, hIm] = [new Float64Array(fft.bins), new Float64Array(fft.bins)];
  const [re, im] = [new Float64Array(fft.bins), new Float64Array(fft.bins)];
  const padded = new Float64Array(size);
  padded.set(response);
  fft.forward(padded, hRe, hIm);
  const result = new Float64Array(sound.length);
  for (let from = 0; from < sound.length; from += step) {
    padded.fill(0);
    padded.set(sound.subarray(from, from + step));
    fft.forward(padded, re, im);
    for (let k = 0; k < fft.bins; k++) {
      const real = re[k]! * hRe[k]! - im[k]! * hIm[k]!;
      im[k] = re[k]! * hIm[k]! + im[k]! * hRe[k]!;
      re[k] = real;
    }
    fft.inverse(re, im, padded);
    const end = Math.min(size, sound.length - from);
    for (let n = 0; n < end; n++) result[from + n]! += padded[n]!;
  }
  return result;
}
