/** The bench of its step; grows in its own folder. */
export function CleanBench() {
  return <section className="bench" />;
}
