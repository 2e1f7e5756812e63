import { useBench } from '../desk/bench-store.ts';
import { laneActions } from './lane-actions.ts';
import { LaneMenu } from './lane-menu.tsx';
import type { Lane, Scene } from './lane-scene.ts';
import type { LanesStage } from './lanes-stage.ts';

/** The lane whose menu is open, and where, window coordinates in CSS pixels. */
export interface MenuAt {
  readonly laneKey: string;
  readonly x: number;
  readonly y: number;
}

interface OpenMenuProps {
  readonly at: MenuAt;
  readonly stage: LanesStage;
  readonly scene: Scene;
  readonly onClose: () => void;
}

/** The menu that is open, of the guide line or of a lane; nothing when its lane is gone. */
export function OpenMenu({ at, stage, scene, onClose }: OpenMenuProps) {
  const unfolded = useBench((state) => state.unfolded);
  const lane = [scene.guide, ...scene.lanes].find((one) => one.key === at.laneKey);
  if (lane === undefined) return null;
  return (
    <LaneMenu
      title={menuTitle(lane)}
      items={laneActions(stage, lane, lane.voice !== null && unfolded.includes(lane.voice.id))}
      x={at.x}
      y={at.y}
      onClose={onClose}
    />
  );
}

function menuTitle({ kind, take, voice }: Lane): string {
  if (kind === 'guide') return 'Guide';
  return (kind === 'take' ? take?.name : voice?.name) ?? '';
}
