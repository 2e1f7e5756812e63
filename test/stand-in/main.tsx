import { startApp } from '../../renderer/app.tsx';
import { standInBridge } from './stand-in-bridge.ts';

startApp(standInBridge(new URLSearchParams(location.search)));
