/** The bench of Sound check. */
export function SoundCheckBench() {
  return <h2>Sound check</h2>;
}
