import type { Voice } from '../../../core/session/schema.ts';
import { edit } from '../../desk/desk-store.ts';
import { VoiceSign } from '../../lanes/voice-sign.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Popup } from '../../parts/popup.tsx';
import { colourNames } from '../../parts/voice-colours.ts';

/** The sign of a voice: its colour, and the shape that goes with it. */
export function ColourMenu({ voice }: { voice: Voice }) {
  return (
    <Popup
      button={<VoiceSign colour={voice.colour} />}
      label={`Colour and sign of ${voice.name}: ${colourNames[voice.colour] ?? ''}`}
    >
      {() => (
        <Choice
          layout="list"
          label="Colour and sign"
          value={String(voice.colour)}
          options={colourNames.map((name, colour) => ({
            value: String(colour),
            label: (
              <span className="takes-colour">
                <VoiceSign colour={colour} /> {name}
              </span>
            ),
          }))}
          onChange={(colour) =>
            edit({ kind: 'setColour', voiceId: voice.id, colour: Number(colour) }, `colour-${voice.id}`)
          }
        />
      )}
    </Popup>
  );
}
