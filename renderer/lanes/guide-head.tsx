import type { KeyboardEvent } from 'react';
import { laneKey } from './lane-keys.ts';
import type { Lane, Scene } from './lane-scene.ts';
import { guideInWords } from './lane-words.ts';
import type { LanesStage } from './lanes-stage.ts';

export interface GuideHeadProps {
  readonly stage: LanesStage;
  readonly scene: Scene;
  /** Down from the guide line, into the lanes. */
  readonly onDown: () => void;
  readonly onMenu: (lane: Lane, at: DOMRect) => void;
}

/** The guide line's name at the left. With the focus on it keys do on the guide line what they do in a lane. */
export function GuideHead({ stage, scene, onDown, onMenu }: GuideHeadProps) {
  const { guide } = scene;
  const isThere = guide.wave !== null || guide.words !== null;
  const onKeyDown = (event: KeyboardEvent<HTMLElement>): void => {
    const box = event.currentTarget.getBoundingClientRect();
    const did =
      event.key === 'ArrowUp' ||
      laneKey({ stage, lanes: [guide], at: 0, goTo: onDown, openMenu: (lane) => onMenu(lane, box) }, event);
    if (did) event.preventDefault();
  };
  return (
    // biome-ignore lint/a11y/useSemanticElements: no set of fields; a line over a canvas that keys work on.
    <div
      className="lanes-head-guide"
      data-drop-guide=""
      role="group"
      aria-label={guideInWords(scene)}
      data-lane={guide.key}
      tabIndex={isThere ? 0 : -1}
      onKeyDown={onKeyDown}
    >
      {isThere ? (
        <>
          <span className="lanes-title">Guide</span>
          <span className="lanes-below">heard while recording</span>
        </>
      ) : (
        <span className="lanes-below">no guide</span>
      )}
    </div>
  );
}
