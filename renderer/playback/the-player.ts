import { PagePlayer } from './page-player.ts';
import type { Player } from './player.ts';

let player: Player | undefined;

/** The player; made at the first call. */
export function thePlayer(): Player {
  player ??= new PagePlayer();
  return player;
}
