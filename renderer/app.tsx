import { StrictMode } from 'react';
import { createRoot } from 'react-dom/client';
import type { Bridge } from '../app/shell/contract/bridge.ts';
import { connectDesk } from './desk/desk-store.ts';
import { Frame } from './frame/frame.tsx';
import { startTheme } from './theme/theme.ts';
import './theme/theme.css';
import './theme/base.css';

/** Puts the whole screen into the page, over the door it was given. */
export function startApp(bridge: Bridge): void {
  const place = document.getElementById('app');
  if (place === null) throw new Error('the page has no place for the app');
  startTheme();
  connectDesk(bridge);
  createRoot(place).render(
    <StrictMode>
      <Frame />
    </StrictMode>,
  );
}
