import { voiceColour } from '../parts/voice-colours.ts';

/** One shape a colour, so that colour never stands alone. Drawn in a box of 12. */
const SHAPES = [
  <circle key="0" cx="6" cy="6" r="5" />,
  <path key="1" d="M1 1h10v10H1z" />,
  <path key="2" d="M6 0.5 11.7 11H0.3z" />,
  <path key="3" d="M6 0 12 6 6 12 0 6z" />,
  <path key="4" d="M0.3 1h11.4L6 11.5z" />,
  <path
    key="5"
    fillRule="evenodd"
    d="M6 0.5a5.5 5.5 0 1 0 0 11 5.5 5.5 0 0 0 0-11zm0 3a2.5 2.5 0 1 1 0 5 2.5 2.5 0 0 1 0-5z"
  />,
  <path key="6" d="M4 0.5h4V4h3.5v4H8v3.5H4V8H0.5V4H4z" />,
  <path key="7" fillRule="evenodd" d="M0.5 0.5h11v11h-11zm3 3v5h5v-5z" />,
] as const;

/** A voice's sign: its colour and the shape that goes with it. For the eye only; the name stands beside it. */
export function VoiceSign({ colour }: { readonly colour: number }) {
  return (
    <svg
      className="lanes-sign"
      viewBox="-1 -1 14 14"
      width="14"
      height="14"
      aria-hidden="true"
      style={{ fill: voiceColour(colour) }}
    >
      {SHAPES[colour] ?? SHAPES[0]}
    </svg>
  );
}
