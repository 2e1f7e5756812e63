import { contextBridge, ipcRenderer, webUtils } from 'electron';
import { preloadDoor } from './preload-door.ts';

contextBridge.exposeInMainWorld('partsong', preloadDoor({ ipcRenderer, webUtils }));
