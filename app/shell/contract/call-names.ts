import type { CallName } from './calls.ts';

const known: Readonly<Record<CallName, true>> = {
  begin: true,
  newSession: true,
  openSession: true,
  openSample: true,
  closeSession: true,
  forgetRecent: true,
  edit: true,
  undo: true,
  redo: true,
  addClips: true,
  setGuide: true,
  lineUpAgain: true,
  relink: true,
  searchMissing: true,
  joinPoints: true,
  listenToPitch: true,
  listenToTakes: true,
  stopJob: true,
  render: true,
  readScore: true,
  makeGuide: true,
  tryGuide: true,
  checkClip: true,
  checkTake: true,
  forgetTrial: true,
  preparePictures: true,
  gatherClips: true,
  findSolos: true,
  renderPicture: true,
  pickFiles: true,
  pickFolder: true,
  reveal: true,
};

/** The names of all calls without their checks, for preload and page, which are to stay small. */
export const plainCallNames = Object.keys(known) as readonly CallName[];
