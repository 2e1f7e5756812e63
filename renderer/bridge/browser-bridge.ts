import type { Bridge, DoorAnswer, Presence } from '../../app/shell/contract/bridge.ts';
import type { CallName } from '../../app/shell/contract/calls.ts';
import type { DeskEvent } from '../../app/shell/contract/events.ts';
import { BridgeFault } from './bridge-fault.ts';
import { callFunctions } from './call-functions.ts';
import { EventGate } from './event-gate.ts';
import { LostWatch } from './lost-watch.ts';
import { sendFiles } from './send-files.ts';

/** A connection that is not back after this is lost, ms. */
const LOST_AFTER_MS = 6000;
/** Calls do not wait longer than this for the events to begin, ms. */
const EVENTS_WITHIN_MS = 3000;

/** The desk over loopback. */
export function browserBridge(): Bridge {
  const gate = new EventGate();
  const watch = new LostWatch(LOST_AFTER_MS);
  const entered = enter().then(() => listen(gate, watch));
  // Told by the first call, which waits for it.
  entered.catch(() => undefined);
  // A new start's address differs from this page's in its token alone: the browser would stay on the page as it is.
  addEventListener('hashchange', () => {
    if (location.hash.length > 1) location.reload();
  });
  const send = async (name: CallName, input: unknown): Promise<DoorAnswer> => {
    await entered;
    return post('/call', { name, input });
  };
  return {
    door: 'browser',
    calls: callFunctions(send, gate),
    onEvent: (listener) => gate.onEvent(listener),
    onLost: (listener) => watch.onLost(listener),
    isThere,
    mediaUrl: (route) => new URL(`/media/${route}`, location.href).href,
    pathsOf: async (files, onProgress) => {
      await entered;
      return sendFiles(files, onProgress);
    },
  };
}

/** Hands in the token of the opened address, and takes it out of the address and the history. */
async function enter(): Promise<void> {
  const token = location.hash.slice(1);
  if (token === '') return;
  history.replaceState(null, '', location.pathname);
  const answer = await post('/enter', { token });
  if (!answer.ok) throw new BridgeFault(answer.fault);
}

async function isThere(): Promise<Presence> {
  try {
    const { ok } = await fetch('/there', { cache: 'no-store', credentials: 'same-origin' });
    return ok ? 'there' : 'stranger';
  } catch {
    return 'gone';
  }
}

async function post(path: string, message: unknown): Promise<DoorAnswer> {
  let answer: unknown;
  try {
    const response = await fetch(path, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(message),
      credentials: 'same-origin',
      cache: 'no-store',
    });
    answer = await response.json();
  } catch {
    throw new BridgeFault(unreachable);
  }
  return answer as DoorAnswer;
}

const unreachable = {
  code: 'desk-gone',
  message: 'The desk did not answer.',
  nextStep: 'Start Partsong again if it has ended; your session is saved.',
  file: null,
};

/** Listens for events; settles when they come, or after a while without them. */
function listen(gate: EventGate, watch: LostWatch): Promise<void> {
  return new Promise((resolve) => {
    const source = new EventSource('/events');
    setTimeout(resolve, EVENTS_WITHIN_MS);
    source.addEventListener('hello', () => {
      watch.there();
      resolve();
    });
    source.addEventListener('goodbye', () => {
      source.close();
      watch.gone();
    });
    source.addEventListener('message', (event) => gate.take(JSON.parse(event.data) as DeskEvent));
    source.addEventListener('error', () => {
      resolve();
      if (source.readyState === EventSource.CLOSED) watch.gone();
      else watch.broken();
    });
    // A page that is left says so at once; one that comes back from the browser's memory begins anew.
    addEventListener('pagehide', () => source.close());
    addEventListener('pageshow', (event) => {
      if (event.persisted) location.reload();
    });
  });
}
