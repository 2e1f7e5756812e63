import { homedir } from 'node:os';
import { join } from 'node:path';
import { userConfigFolder } from '../desk/recents.ts';

/** As in package.json; a test compares them. */
export const VERSION = '0.1.0';

/** Where a desk keeps what belongs to no session. */
export interface HostPlaces {
  readonly version: string;
  /** New sessions go here. */
  readonly homeFolder: string;
  /** What is remembered between sessions. */
  readonly configFolder: string;
}

/** The usual places; `PARTSONG_HOME` and `PARTSONG_CONFIG` name others. */
export function hostPlaces(env: NodeJS.ProcessEnv = process.env): HostPlaces {
  return {
    version: VERSION,
    homeFolder: env['PARTSONG_HOME'] || join(homedir(), 'Partsong'),
    configFolder: env['PARTSONG_CONFIG'] || userConfigFolder(),
  };
}
