import { z } from 'zod';
import type { JoinKind } from '../../../core/mix/join.ts';
import type { ToneChange } from '../../../core/picture/tone-match.ts';
import { editSchema } from '../../../core/session/edit-schema.ts';
import { idSchema } from '../../../core/session/schema.ts';
import type { DeskView, FaultView, SpanView, StartView } from './desk-view.ts';
import { guideChoiceSchema } from './guide-choice.ts';
import type { ScoreView } from './guide-view.ts';

const path = z.string().min(1).max(4096);
const none = z.strictObject({});

/** What each call takes; checked at the door, whatever the page is. */
export const callInputs = {
  /** Once when a page begins. */
  begin: none,
  newSession: z.strictObject({ title: z.string().max(200), folder: path.nullable() }),
  openSession: z.strictObject({ folder: path }),
  /** A new session with the sample's clips. */
  openSample: none,
  closeSession: none,
  forgetRecent: z.strictObject({ folder: path }),
  /** `by` names the page, `seq` counts its edits; edits in a row with one `mergeKey` are one step of undo. */
  edit: z.strictObject({
    edit: editSchema,
    mergeKey: z.string().max(100).nullable(),
    by: z.string().max(64),
    seq: z.number().int().nonnegative(),
  }),
  undo: none,
  redo: none,
  /** Files or folders. voiceId: all become takes of that voice; null: one voice a clip, or by name. */
  addClips: z.strictObject({ files: z.array(path).min(1).max(500), voiceId: idSchema.nullable() }),
  setGuide: z.strictObject({ file: path.nullable() }),
  /** Lines takes up anew, leaving those placed by hand; empty: all. */
  lineUpAgain: z.strictObject({ takeIds: z.array(idSchema).max(2000) }),
  /** Puts a missing clip's file right; refused unless the content is the same or `evenIfOther`. */
  relink: z.strictObject({ takeId: idSchema, file: path, evenIfOther: z.boolean() }),
  /** Searches a folder (and those in it) for all missing clips, by content. */
  searchMissing: z.strictObject({ folder: path }),
  /** Where two takes of a voice can be joined near a session time; changes nothing. */
  joinPoints: z.strictObject({
    leftTakeId: idSchema,
    rightTakeId: idSchema,
    atSec: z.number().min(-1e6).max(1e6),
  }),
  /** Follows the pitch of the voices and holds it against the score, or the keys, in the background. */
  listenToPitch: z.strictObject({
    /** A4, Hz; null for the ensemble's own. */
    referenceHz: z.number().min(380).max(500).nullable(),
    temperament: z.enum(['equal', 'pythagorean', 'meanTone', 'just']),
    /** 0 (C) to 11 (B); of no account in an equal temperament. */
    tonic: z.number().int().min(0).max(11),
  }),
  /** Follows timing and pitch of takes of voices that have several, to compare them. */
  listenToTakes: none,
  stopJob: z.strictObject({ jobId: z.string().max(64) }),
  render: z.strictObject({
    /** null: a folder "renders" in the session's. */
    folder: path.nullable(),
    wave: z.enum(['pcm24', 'pcm16', 'float32']),
    copy: z.enum(['m4a', 'flac', 'mp3']).nullable(),
    stems: z.boolean(),
  }),
  /** Reads a score, MIDI or MusicXML; changes nothing. */
  readScore: z.strictObject({ file: path }),
  /** Makes a guide into the session's folder and takes it as its guide. */
  makeGuide: z.strictObject({ choice: guideChoiceSchema }),
  /** Makes a guide only to be listened to, see media.ts; `voice`: that voice's own guide. Resolves when it can be heard. */
  tryGuide: z.strictObject({ choice: guideChoiceSchema, voice: z.string().max(200).nullable() }),
  /** Checks a clip that is no take; or a take of the session. */
  checkClip: z.strictObject({ file: path }),
  checkTake: z.strictObject({ takeId: idSchema }),
  forgetTrial: z.strictObject({ trialId: z.string().max(64) }),
  /**
   * The page is about to show moving pictures: small copies of clips are made where they are needed. cannotPlay: takes
   * whose clips turned out not to play in this page.
   */
  preparePictures: z.strictObject({ cannotPlay: z.array(idSchema).max(2000) }),
  /**
   * Copies the clips that are seen, the mix, and the newest render's stems into a folder, with an edit list beside them.
   * folder: null for "gathered" in the session's. links: files of the same disk are linked. Resolves when it is done.
   */
  gatherClips: z.strictObject({ folder: path.nullable(), kind: z.enum(['otio', 'edl']), links: z.boolean() }),
  /** What brings exposure and white balance of the clips nearer to one another; measures each once. */
  matchedTones: none,
  /** Where voices sound alone or clearly lead, from the loudness of their takes; of those that are measured. */
  findSolos: none,
  /** Mixes and renders the video as the session has it. folder: null for "videos" in the session's. */
  renderPicture: z.strictObject({
    folder: path.nullable(),
    container: z.enum(['mp4', 'mkv']),
    speed: z.enum(['quick', 'usual', 'careful']),
    /** Also a still, for the cover. */
    cover: z.boolean(),
  }),
  /** Native dialogs of the window; in a browser they give null and the page uses its own. */
  pickFiles: z.strictObject({ title: z.string().max(200), many: z.boolean() }),
  pickFolder: z.strictObject({ title: z.string().max(200) }),
  /** Shows a file of the session in the system's file manager (window only). */
  reveal: z.strictObject({ path }),
} as const;

export type CallName = keyof typeof callInputs;
export type CallInput<Name extends CallName> = z.infer<(typeof callInputs)[Name]>;

/** What each call gives. A call that cannot be done rejects with a FaultView. */
export interface CallOutputs {
  begin: StartView;
  newSession: DeskView;
  openSession: DeskView;
  openSample: DeskView;
  closeSession: null;
  forgetRecent: null;
  edit: { readonly revision: number };
  undo: { readonly revision: number };
  redo: { readonly revision: number };
  addClips: { readonly added: number; readonly refused: readonly FaultView[] };
  setGuide: null;
  lineUpAgain: null;
  relink: { readonly relinked: boolean; readonly isOther: boolean };
  searchMissing: { readonly found: number; readonly missing: number };
  /** Best first; never empty. */
  joinPoints: { readonly points: readonly { readonly atSec: number; readonly kind: JoinKind }[] };
  listenToPitch: { readonly jobId: string };
  listenToTakes: null;
  stopJob: null;
  render: { readonly jobId: string };
  readScore: ScoreView;
  makeGuide: { readonly jobId: string };
  /** `lengthSec` of the sound; `stamp` tells one made for listening from the next. */
  tryGuide: { readonly lengthSec: number; readonly stamp: number };
  checkClip: { readonly trialId: string };
  checkTake: { readonly trialId: string };
  forgetTrial: null;
  /** Names of the filters that this computer's FFmpeg knows. */
  preparePictures: { readonly filters: readonly string[] };
  /** By voice id, session time. */
  findSolos: { readonly solos: Readonly<Record<string, readonly SpanView[]>> };
  /** By voice id; null: it stays as it was filmed. */
  matchedTones: { readonly tones: Readonly<Record<string, ToneChange | null>> };
  gatherClips: {
    readonly folder: string;
    /** Name of the list in it. */
    readonly list: string;
    readonly files: number;
    readonly sizeBytes: number;
    readonly linked: number;
    readonly notes: readonly string[];
  };
  renderPicture: { readonly jobId: string };
  pickFiles: readonly string[] | null;
  pickFolder: string | null;
  reveal: null;
}

export type CallOutput<Name extends CallName> = CallOutputs[Name];

/** The names of all calls, in their order here. */
export const callNames = Object.keys(callInputs) as CallName[];
