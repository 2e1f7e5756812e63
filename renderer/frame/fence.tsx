import { Component, type ReactNode } from 'react';
import { Button } from '../parts/button.tsx';
import { Note } from '../parts/note.tsx';

interface FenceProps {
  /** What stands within, as in "The lanes". */
  readonly what: string;
  readonly children: ReactNode;
}

interface FenceState {
  readonly fault: Error | null;
}

/** Keeps a part of the screen that breaks from taking the rest with it: the session goes on, and the part can be tried again. */
export class Fence extends Component<FenceProps, FenceState> {
  override state: FenceState = { fault: null };

  static getDerivedStateFromError(fault: Error): FenceState {
    return { fault };
  }

  override render(): ReactNode {
    const { fault } = this.state;
    if (fault === null) return this.props.children;
    return (
      <Note
        kind="wrong"
        title={`${this.props.what} cannot be shown.`}
        actions={<Button onClick={() => this.setState({ fault: null })}>Try again</Button>}
      >
        Your session is safe and nothing else is touched. If it happens again, go to another step, or reload the page.{' '}
        <span className="faint">({fault.message})</span>
      </Note>
    );
  }
}
