/** The bench of its step; grows in its own folder. */
export function BlendBench() {
  return <section className="bench" />;
}
