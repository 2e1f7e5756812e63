/** The bench of Guide. */
export function GuideBench() {
  return <h2>Guide</h2>;
}
