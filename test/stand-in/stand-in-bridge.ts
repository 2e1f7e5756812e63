import type { Bridge, BridgeCalls } from '../../app/shell/contract/bridge.ts';
import { callInputs, callNames } from '../../app/shell/contract/calls.ts';
import { answersOf, workOf } from './stand-in-answers.ts';
import { StandInDesk } from './stand-in-desk.ts';

/**
 * A door onto an invented session, for looking at the screen without a desk. Query: `voices` (4), `length` seconds (60),
 * `trail` for what was heard along the takes (trail=pins: the second was pinned), `takes` of each voice (1), `guide` for one, `bars` (0) of a guide made here, `trials` of the sound check, `pitch` (or
 * pitch=stale) for a report of the intonation, `empty` for the start screen. Edits, undo and redo work; long work does not.
 */
export function standInBridge(query: URLSearchParams): Bridge {
  const desk = new StandInDesk(query);
  const answers = { ...answersOf(desk), ...workOf(desk) };
  const calls = Object.fromEntries(
    callNames.map((name) => [
      name,
      async (input: unknown) => {
        const checked = callInputs[name].parse(input) as never;
        return answers[name]?.(checked) ?? null;
      },
    ]),
  ) as unknown as BridgeCalls;
  return {
    door: 'browser',
    calls,
    onEvent(listener) {
      desk.listeners.add(listener);
      return () => desk.listeners.delete(listener);
    },
    onLost: () => () => {},
    isThere: async () => 'there',
    mediaUrl: (route) =>
      route.startsWith('pitch/')
        ? desk.curveUrl(route)
        : `/media/${route}${route.includes('?') ? '&' : '?'}length=${desk.lengthSec}`,
    pathsOf: async (files) => files.map((file) => `/stand-in/${file.name}`),
  };
}
