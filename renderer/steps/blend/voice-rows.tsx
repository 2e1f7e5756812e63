import type { Role } from '../../../core/session/schema.ts';
import { useBench } from '../../desk/bench-store.ts';
import { edit } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Explain } from '../../parts/explain.tsx';
import { change, figure } from '../../parts/numbers.ts';
import { Slider } from '../../parts/slider.tsx';
import { voiceColour } from '../../parts/voice-colours.ts';
import { usePlayback } from '../../playback/playback-state.ts';
import { thePlayer } from '../../playback/the-player.ts';
import { GestureGroup } from '../drawing/gesture-group.tsx';
import { trueMinus } from '../drawing/true-minus.ts';
import { PeakLine } from './peak-line.tsx';
import { markPath, placeShort } from './stage-geometry.ts';
import { type BlendedVoice, isMoved } from './voices-in-blend.ts';
import './voice-rows.css';

const roleWords: Readonly<Record<Role, string>> = { lead: 'lead', inner: 'inner', bass: 'bass', free: 'free' };

/** One row a voice: what it does, how loud it is and was made, and the hand's own moves. */
export function VoiceRows({ voices }: { readonly voices: readonly BlendedVoice[] }) {
  const alone = usePlayback((state) => state.alone);
  return (
    <ul className="voice-rows" aria-label="Voices">
      {voices.map((one) => (
        <VoiceRow key={one.voice.id} one={one} isAlone={alone.includes(one.voice.id)} />
      ))}
    </ul>
  );
}

function VoiceRow({ one, isAlone }: { readonly one: BlendedVoice; readonly isAlone: boolean }) {
  const { voice, found, gainDb } = one;
  const inHand = useBench((state) => state.voiceId === voice.id);
  const hearAlone = (): void => {
    const { alone } = usePlayback.getState();
    thePlayer().setAlone(isAlone ? alone.filter((id) => id !== voice.id) : [...alone, voice.id]);
  };
  return (
    <li className={inHand ? 'voice-row voice-row-in-hand' : 'voice-row'}>
      <div className="voice-row-name">
        <svg viewBox="-20 -20 40 40" width="30" height="30" aria-hidden="true">
          <path d={markPath(voice.colour, 15)} style={{ stroke: voiceColour(voice.colour) }} />
          <text textAnchor="middle" y="5">
            {one.initials}
          </text>
        </svg>
        <button
          type="button"
          className="voice-row-take"
          aria-pressed={inHand}
          onClick={() => useBench.setState({ voiceId: voice.id, takeId: found?.takeId ?? null })}
        >
          {voice.name}
        </button>
        <label>
          <span className="unseen">Role of {voice.name}</span>
          <select
            value={voice.role}
            onChange={(event) => edit({ kind: 'setRole', voiceId: voice.id, role: event.target.value as Role })}
          >
            {Object.entries(roleWords).map(([role, words]) => (
              <option key={role} value={role}>
                {words}
              </option>
            ))}
          </select>
        </label>
      </div>
      <p className="voice-row-level">
        <LoudnessWords one={one} />
        <span className="voice-row-place">{placeShort(one.placeDeg)}</span>
      </p>
      <GestureGroup className="voice-row-moves">
        {(key) => (
          <Slider
            label={`Fine move of ${voice.name}`}
            hideLabel
            value={voice.trimDb}
            min={-24}
            max={12}
            step={0.5}
            unit="dB"
            onChange={(trimDb) =>
              edit(
                { kind: 'setTrim', voiceId: voice.id, trimDb: Math.round(trimDb * 10) / 10 },
                key(`trim:${voice.id}`),
              )
            }
          />
        )}
      </GestureGroup>
      <PeakLine voiceId={voice.id} name={voice.name} />
      <div className="voice-row-ways">
        <Button
          small
          aria-pressed={voice.muted}
          aria-label={`${voice.name} muted`}
          onClick={() => edit({ kind: 'setMuted', voiceId: voice.id, muted: !voice.muted })}
        >
          muted
        </Button>
        <Button small aria-pressed={isAlone} aria-label={`${voice.name} heard alone`} onClick={hearAlone}>
          heard alone
        </Button>
        <Button
          small
          kind="quiet"
          disabled={!isMoved(voice)}
          aria-label={`${voice.name} as found`}
          title="Back to the level and the place that Partsong found"
          onClick={() =>
            edit({
              kind: 'together',
              label: `${voice.name} back to what was found`,
              edits: [
                { kind: 'setTrim', voiceId: voice.id, trimDb: 0 },
                { kind: 'setPlace', voiceId: voice.id, placeDeg: null },
              ],
            })
          }
        >
          as found
        </Button>
      </div>
      <p className="voice-row-reason">
        {found === null ? 'The blend waits for its take.' : trueMinus(found.reason)}
        {found?.isOff === true ? ' Look here: it could not be brought to its level.' : ''}
        {found?.leftOut === true ? ' It is left out of the mix, since its place is not known.' : ''}
        {gainDb === null || voice.trimDb === 0 ? null : (
          <>
            {' '}
            <Explain word="gain">Gain</Explain>: {change(found?.gainDb ?? 0)} dB found, {change(voice.trimDb)} dB by
            you.
          </>
        )}
      </p>
    </li>
  );
}

function LoudnessWords({ one }: { readonly one: BlendedVoice }) {
  if (one.mixedLufs === null || one.gainDb === null) return <span>loudness not measured yet</span>;
  return (
    <span>
      <Explain word="gain">gain</Explain> {change(one.gainDb)} dB: <strong>{figure(one.mixedLufs)}</strong>{' '}
      <Explain word="lufs">LUFS</Explain>
    </span>
  );
}
