import type { CallName } from '../contract/calls.ts';

/** Each call has a channel of its own between page and program. */
export function channelOf(name: CallName): string {
  return `partsong:call:${name}`;
}

/** Events of the desk go to the page by this one. */
export const EVENT_CHANNEL = 'partsong:event';
