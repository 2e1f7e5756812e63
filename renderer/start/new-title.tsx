import { useState } from 'react';
import { Button } from '../parts/button.tsx';

/** Begins an empty session under a title. */
export function NewTitle({ onBegin }: { onBegin: (title: string) => void }) {
  const [title, setTitle] = useState('');
  return (
    <section>
      <h2 id="new-title">Begin an empty session</h2>
      <form
        className="start-line"
        onSubmit={(event) => {
          event.preventDefault();
          onBegin(title.trim() === '' ? 'Untitled' : title.trim());
        }}
      >
        <input
          type="text"
          aria-label="Title of the new session"
          placeholder="Title of the piece"
          maxLength={200}
          value={title}
          onChange={(event) => setTitle(event.target.value)}
        />
        <Button type="submit">Begin</Button>
      </form>
    </section>
  );
}
