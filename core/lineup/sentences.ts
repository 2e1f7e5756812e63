/** A duration as a musician reads it: `12 ms`, `0.3 ms`. seconds may be negative; the sign is dropped. */
export function asMs(seconds: number): string {
  const ms = Math.abs(seconds) * 1000;
  return `${ms < 1 ? ms.toFixed(1) : Math.round(ms)} ms`;
}

/** A time as minutes, seconds and hundredths: `1:07.25`. */
export function asClock(seconds: number): string {
  const hundredths = Math.round(Math.max(0, seconds) * 100);
  const minutes = Math.floor(hundredths / 6000);
  const rest = (hundredths % 6000) / 100;
  return `${minutes}:${rest.toFixed(2).padStart(5, '0')}`;
}

/** Speed of sound in dry air, m/s. Source: c = 331.3 sqrt(1 + T / 273.15); 343.2 m/s at 20 degrees. */
export function speedOfSound(celsius: number): number {
  return 331.3 * Math.sqrt(1 + celsius / 273.15);
}
