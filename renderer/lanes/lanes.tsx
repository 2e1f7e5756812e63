/** The score: guide line, a lane a voice, one time line. */
export function Lanes() {
  return <section className="lanes" />;
}
