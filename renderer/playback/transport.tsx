/** Play, place and volume, along the bottom of the screen. */
export function Transport() {
  return <section className="transport" aria-label="Playback" />;
}
