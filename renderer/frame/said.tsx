import { create } from 'zustand';

/** What was done last where the eye sees it but the ear does not: for screen readers. */
const useSaid = create<{ readonly words: string }>(() => ({ words: '' }));

export function say(words: string): void {
  useSaid.setState({ words });
}

/** Where it is said; once on the page. */
export function Said() {
  const words = useSaid((state) => state.words);
  return (
    <p className="unseen" role="status">
      {words}
    </p>
  );
}
