/** Common practice, no source: a steady tone below this is heard as a hum or drone, one above as a whistle. */
const LOWEST_WHISTLE_HZ = 250;
/** Hum has its strong lines below this. */
const HIGHEST_HUM_HZ = 800;
/** How far a line may lie off a multiple of the mains' frequency, as a fraction of its own. */
const MAINS_TOLERANCE = 0.002;

/** Whether a steady tone at `hz` is to be called a hum though it belongs to no series that was found: low, or a multiple of 50 or 60 Hz. */
export function humsAlone(hz: number): boolean {
  return hz < LOWEST_WHISTLE_HZ || isMainsMultiple(hz);
}

function isMainsMultiple(hz: number): boolean {
  return (
    hz < HIGHEST_HUM_HZ &&
    [50, 60].some((mains) => Math.abs(hz / mains - Math.round(hz / mains)) * mains < MAINS_TOLERANCE * hz)
  );
}
