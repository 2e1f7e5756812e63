/** The bench of its step; grows in its own folder. */
export function TakesBench() {
  return <section className="bench" />;
}
