import type { Scene } from './lane-scene.ts';

/** The bracket that joins all voices into one system, and a thin one for the unfolded takes of a voice. */
export function LaneBrackets({ scene }: { readonly scene: Scene }) {
  const groups = new Map<string, { top: number; bottom: number }>();
  for (const lane of scene.lanes) {
    if (lane.kind !== 'take' || lane.voice === null) continue;
    const group = groups.get(lane.voice.id) ?? { top: lane.topPx, bottom: 0 };
    groups.set(lane.voice.id, { top: group.top, bottom: lane.topPx + lane.heightPx });
  }
  if (scene.lanes.length === 0) return null;
  return (
    <>
      <div className="lanes-bracket" role="presentation" style={{ height: scene.heightPx - 12 }}>
        <svg viewBox="0 0 10 6" width="10" height="6" aria-hidden="true">
          <path d="M0 6V4C4 4 7 2.5 9.5 0 8 4 5 6 0 6z" />
        </svg>
        <svg viewBox="0 0 10 6" width="10" height="6" aria-hidden="true">
          <path d="M0 0V2C4 2 7 3.5 9.5 6 8 2 5 0 0 0z" />
        </svg>
      </div>
      {[...groups].map(([id, { top, bottom }]) => (
        <div key={id} className="lanes-brace" role="presentation" style={{ top: top + 5, height: bottom - top - 10 }} />
      ))}
    </>
  );
}
