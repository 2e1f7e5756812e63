/** The bench of its step; grows in its own folder. */
export function RenderBench() {
  return <section className="bench" />;
}
