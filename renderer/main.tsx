import { startApp } from './app.tsx';
import { openBridge } from './bridge/open-bridge.ts';

startApp(openBridge());
