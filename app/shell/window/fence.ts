import type { App, Session, WebContents } from 'electron';
import { isOwnAddress, isPageAddress } from './own-address.ts';

/**
 * Keeps the page where it is: nothing else is ever shown, loaded, opened or embedded in any of the program's windows.
 * Opening the page's own address again (a reload) is not hindered.
 */
export function fenceContents(app: Pick<App, 'on'>): void {
  app.on('web-contents-created', (_event, contents) => fence(contents));
}

function fence(contents: Pick<WebContents, 'on' | 'setWindowOpenHandler'>): void {
  contents.setWindowOpenHandler(() => ({ action: 'deny' }));
  contents.on('will-navigate', (event) => {
    if (!isPageAddress(event.url)) event.preventDefault();
  });
  contents.on('will-frame-navigate', (event) => {
    if (!event.isMainFrame || !isPageAddress(event.url)) event.preventDefault();
  });
  contents.on('will-redirect', (event) => event.preventDefault());
  contents.on('will-attach-webview', (event) => event.preventDefault());
}

export type FencedSession = Pick<
  Session,
  'on' | 'setPermissionRequestHandler' | 'setPermissionCheckHandler' | 'setDevicePermissionHandler' | 'webRequest'
>;

/**
 * Refuses everything a page can ask of the system but the choice of the sound's output. To name the outputs Electron also
 * looks whether sound devices may be known (a check of 'media'), which is granted to our own page; opening a microphone or
 * a camera is a request, and every request for those is refused.
 */
export function fenceSession(session: FencedSession): void {
  session.setPermissionRequestHandler((_contents, permission, answer, details) => {
    answer(permission === 'speaker-selection' && isOwnAddress(details.requestingUrl));
  });
  session.setPermissionCheckHandler((_contents, permission, origin, details) => {
    if (!isOwnAddress(origin)) return false;
    if (permission === 'speaker-selection') return true;
    return permission === 'media' && details.mediaType === 'audio';
  });
  session.setDevicePermissionHandler(() => false);
  session.webRequest.onBeforeRequest((details, answer) => {
    answer({ cancel: !isLocal(details.url) });
  });
  session.on('will-download', (event) => event.preventDefault());
}

/** Our own address, what the page makes itself, and the tools for developers. */
function isLocal(url: string): boolean {
  return isOwnAddress(url) || /^(blob:partsong:\/\/desk\/|data:|devtools:)/.test(url);
}
