import { voiceColour } from '../parts/voice-colours.ts';

const VOICES = [0, 1, 2, 3];
const STAFF_GAP = 32;
/** How far each voice is away from the others before it is lined up, and the height of its notes on the staff. */
const LATE = [-9, 7, -3, 12];
const NOTES = [
  [2, 0, 1, 3],
  [3, 2, 2, 1],
  [1, 3, 2, 4],
  [4, 4, 3, 2],
] as const;

/** Four staves: apart before the double bar, together after it. An ornament. */
export function StartScore() {
  return (
    <svg className="start-score" viewBox="0 0 330 136" width="330" height="136" aria-hidden="true">
      <path d="M13 4H8V132H13" className="start-score-bracket" />
      <path d="M18.5 6V130M172.5 6V130M177 6V130M322.5 6V130" className="start-score-bar" />
      {VOICES.map((voice) => {
        const top = 8 + voice * STAFF_GAP;
        return (
          <g key={voice}>
            {[0, 1, 2, 3, 4].map((line) => (
              <path key={line} d={`M18 ${top + 5 * line + 0.5}H322`} className="start-score-line" />
            ))}
            {NOTES[voice]!.map((step, at) => (
              <g key={keyOf(at)} style={{ fill: voiceColour(voice) }}>
                <Note x={46 + 36 * at + LATE[voice]!} y={top + 5 * step} />
                <Note x={202 + 34 * at} y={top + 5 * step} />
              </g>
            ))}
          </g>
        );
      })}
    </svg>
  );
}

/** The notes never change their order. */
function keyOf(at: number): string {
  return `note-${at}`;
}

function Note({ x, y }: { x: number; y: number }) {
  return <ellipse cx={x} cy={y} rx="5" ry="3.6" transform={`rotate(-22 ${x} ${y})`} />;
}
