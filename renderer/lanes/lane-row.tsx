import { memo } from 'react';
import { foldTakes } from '../desk/bench-store.ts';
import { StateSign } from '../parts/state-sign.tsx';
import type { Lane } from './lane-scene.ts';
import { laneInWords } from './lane-words.ts';
import { VoiceSign } from './voice-sign.tsx';

export interface LaneRowProps {
  readonly lane: Lane;
  readonly index: number;
  readonly inHand: boolean;
  /** The one row that the tab key reaches. */
  readonly active: boolean;
  readonly unfolded: boolean;
  readonly onMenu: (lane: Lane, at: DOMRect) => void;
}

/** From this height on a long name has two lines, CSS pixels. */
const TWO_LINES_PX = 70;

/** One lane: its name at the left as a score names its instruments; its waveform lies on the canvas behind. */
export const LaneRow = memo(function LaneRow(props: LaneRowProps) {
  const { lane, index, inHand, active, unfolded } = props;
  const isVoice = lane.kind === 'voice';
  const { voice, take } = lane;
  if (voice === null) return null;
  const tabIndex = active ? 0 : -1;
  const canFold = isVoice && lane.takeCount > 0;
  return (
    // biome-ignore lint/a11y/useSemanticElements: a treegrid over a canvas is no table.
    <div
      className={`lanes-row lanes-row-${lane.kind}${inHand ? ' lanes-row-in-hand' : ''}${lane.heightPx >= TWO_LINES_PX ? ' lanes-row-tall' : ''}`}
      role="row"
      aria-level={isVoice ? 1 : 2}
      aria-rowindex={index + 1}
      aria-selected={inHand}
      {...(canFold ? { 'aria-expanded': unfolded } : {})}
      aria-label={laneInWords(lane)}
      tabIndex={tabIndex}
      data-lane={lane.key}
      data-drop-voice={voice.id}
      style={{ top: lane.topPx, height: lane.heightPx }}
    >
      {/* biome-ignore lint/a11y/useSemanticElements: as above. */}
      {/* biome-ignore lint/a11y/useFocusableInteractive: the row has the focus, not its cells. */}
      <div className="lanes-name" role="rowheader">
        {canFold ? (
          <button
            type="button"
            className="lanes-fold"
            tabIndex={tabIndex}
            aria-label={unfolded ? `Fold the takes of ${voice.name}` : `Unfold the takes of ${voice.name}`}
            title={
              unfolded
                ? 'Fold the takes'
                : `Unfold ${lane.takeCount === 1 ? 'the take' : `the ${lane.takeCount} takes`}`
            }
            onClick={() => foldTakes(voice.id)}
          >
            <svg viewBox="0 0 10 10" width="10" height="10" aria-hidden="true">
              <path d={unfolded ? 'M1 3l4 4 4-4' : 'M3 1l4 4-4 4'} />
            </svg>
          </button>
        ) : null}
        {isVoice ? <VoiceSign colour={voice.colour} /> : null}
        <div className="lanes-words">
          <span className="lanes-title" title={isVoice ? voice.name : (take?.name ?? '')}>
            {isVoice ? voice.name : take?.name}
          </span>
          <span className="lanes-below">{belowName(lane)}</span>
        </div>
        {lane.question === null ? null : (
          <span className="lanes-look" title={`Look here: ${lane.question}`} aria-hidden="true">
            <StateSign state="lookHere" />
          </span>
        )}
        <button
          type="button"
          className="lanes-more"
          tabIndex={tabIndex}
          aria-label={`What can be done with ${isVoice ? voice.name : (take?.name ?? 'this take')}`}
          aria-haspopup="menu"
          title="What can be done here"
          onClick={(event) => props.onMenu(lane, event.currentTarget.getBoundingClientRect())}
        >
          <svg viewBox="0 0 12 4" width="12" height="4" aria-hidden="true">
            <path d="M0 0h2.5v2.5H0zM4.75 0h2.5v2.5h-2.5zM9.5 0H12v2.5H9.5z" />
          </svg>
        </button>
      </div>
      {/* biome-ignore lint/a11y/useSemanticElements: as above. */}
      {/* biome-ignore lint/a11y/useFocusableInteractive: as above. */}
      <div className="lanes-field" role="gridcell" aria-label={lane.words ?? 'waveform'} />
    </div>
  );
});

/** Role and take, in small words below the name. */
function belowName(lane: Lane): string {
  if (lane.kind === 'take') {
    if (lane.passages != null) return `take ${lane.takeNumber}${lane.sounds ? ', used in part' : ', not used'}`;
    return lane.sounds ? 'this take sounds' : `take ${lane.takeNumber}`;
  }
  const isOpen = lane.take !== null && lane.take.placement === null;
  // There is room for three short words: what is still to come goes before what stays.
  const words: string[] = isOpen && lane.takeCount > 1 ? [] : [lane.voice?.role ?? ''];
  if (lane.passages != null) words.push(`${lane.passages.parts.length} passages`);
  else if (lane.takeCount > 1)
    words.push(lane.takeNumber > 0 ? `take ${lane.takeNumber} of ${lane.takeCount}` : `${lane.takeCount} takes`);
  if (lane.voice?.muted === true) words.push('muted');
  if (isOpen) words.push('not lined up');
  return words.join(', ');
}
