/** The bench of its step; grows in its own folder. */
export function LineUpBench() {
  return <section className="bench" />;
}
