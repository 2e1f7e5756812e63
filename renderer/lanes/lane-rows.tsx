import { useBench } from '../desk/bench-store.ts';
import { LaneBrackets } from './lane-brackets.tsx';
import { laneKey } from './lane-keys.ts';
import { LaneRow } from './lane-row.tsx';
import type { Lane, Scene } from './lane-scene.ts';
import { guideInWords } from './lane-words.ts';
import type { LanesStage } from './lanes-stage.ts';

interface LaneRowsProps {
  readonly stage: LanesStage;
  readonly scene: Scene;
  /** Key of the lane that the tab key reaches; the first one where there is none of this key. */
  readonly active: string;
  readonly onActive: (key: string) => void;
  readonly onGoTo: (lane: Lane | undefined) => void;
  readonly onMenu: (lane: Lane, at: DOMRect) => void;
}

/** The rows of voices and takes, one of them active, with the keys that work in them. */
export function LaneRows({ stage, scene, active, onActive, onGoTo, onMenu }: LaneRowsProps) {
  const unfolded = useBench((state) => state.unfolded);
  const takeId = useBench((state) => state.takeId);
  const voiceId = useBench((state) => state.voiceId);
  const inHand = (lane: Lane): boolean =>
    lane.kind === 'voice' ? lane.voice?.id === voiceId : lane.take !== null && lane.take.id === takeId;
  const activeAt = Math.max(
    0,
    scene.lanes.findIndex((lane) => lane.key === active),
  );
  const onKeyDown = (event: React.KeyboardEvent): void => {
    const row = event.target instanceof HTMLElement ? event.target : null;
    if (row?.getAttribute('role') !== 'row') return;
    const did = laneKey(
      {
        stage,
        lanes: scene.lanes,
        at: activeAt,
        goTo: (index) => onGoTo(scene.lanes[index]),
        openMenu: (lane) =>
          onMenu(lane, row.querySelector('.lanes-more')?.getBoundingClientRect() ?? row.getBoundingClientRect()),
      },
      event,
    );
    if (did) event.preventDefault();
  };
  return (
    <div
      className="lanes-rows"
      role="treegrid"
      aria-label={`Voices. ${guideInWords(scene)}.`}
      aria-rowcount={scene.lanes.length}
      style={{ height: scene.heightPx }}
      onKeyDown={onKeyDown}
      onFocus={(event) => {
        const key = event.target.closest<HTMLElement>('[data-lane]')?.dataset['lane'];
        if (key !== undefined) onActive(key);
      }}
    >
      {scene.lanes.map((lane, index) => (
        <LaneRow
          key={lane.key}
          lane={lane}
          index={index}
          inHand={inHand(lane)}
          active={index === activeAt}
          unfolded={lane.voice !== null && unfolded.includes(lane.voice.id)}
          onMenu={onMenu}
        />
      ))}
      <LaneBrackets scene={scene} />
    </div>
  );
}
