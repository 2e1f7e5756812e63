import type { ReactNode } from 'react';

/** One setting on a line: its name, its control, and a hint below. */
export function GuideRow({ name, hint, children }: { name: ReactNode; hint?: ReactNode; children: ReactNode }) {
  return (
    <div className="guide-row">
      <span className="guide-row-name">{name}</span>
      <span className="guide-row-control">{children}</span>
      {hint !== undefined && <span className="guide-row-hint small faint">{hint}</span>}
    </div>
  );
}
