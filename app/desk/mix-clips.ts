import { basename, resolve } from 'node:path';
import type { Report } from '../../core/session/report.ts';
import type { CleanChoice } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import type { WrittenFormat } from '../../core/wave/format.ts';
import type { EncodedFormat } from '../media/encode.ts';
import { type AssignRule, assignClips, type NamedVoice, noClips, takeNameOf } from './assignment.ts';
import { Desk } from './desk.ts';
import { HistoryStore } from './history-store.ts';
import { SessionLock } from './lock.ts';
import { rolesOf } from './names.ts';
import { roleName, withoutRepeats } from './session/add-takes.ts';
import { bringIn, keepGuide, USUAL_CLEAN } from './session/bring-in.ts';
import { Draft } from './session/draft.ts';
import { openRender, renderDraft } from './session/render-session.ts';
import type { Running } from './session/session-work.ts';
import { workFault } from './work-fault.ts';

/** Clips that are to be mixed, and how. */
export interface ClipsWish {
  /** Top voice first. */
  readonly clips: readonly string[];
  /** Which clip is of which voice; each of its own when absent. Of several takes of a voice the proposed one is mixed. */
  readonly rule?: AssignRule | undefined;
  /** Voices whose clips are named by hand. */
  readonly byHand?: readonly NamedVoice[] | undefined;
  /** The takes that a clip holds are takes of their own. */
  readonly apart?: boolean | undefined;
  readonly guide?: string | undefined;
  /** Part of the name of the voice that leads. */
  readonly lead?: string | undefined;
  /** Form of mix.wav; 24 bit when absent. */
  readonly wave?: WrittenFormat | undefined;
  /** A copy for upload, cut to the music. */
  readonly copy?: EncodedFormat | undefined;
}

export interface MixOptions extends ClipsWish, Running {
  readonly outFolder: string;
  readonly targetLufs: number;
  readonly ceilingDbtp: number;
  /** How hard to clean; absent: the noise stays. */
  readonly character?: CleanChoice['character'] | undefined;
  readonly title?: string | undefined;
}

/**
 * The main job: takes clips in, cleans them, lines them up, balances them and mixes them down into a folder, with a new
 * session there. The folder gets all or nothing; the clips are only read. A folder whose session is open elsewhere is refused, and
 * one in whose session something was decided, which a new one would put aside. Throws PartsongError or CancelledError.
 */
export async function mixClips(options: MixOptions): Promise<{ report: Report; folder: string }> {
  const { clips: named, twice } = withoutRepeats(options.clips);
  const voices = assignClips(named, options.rule ?? { by: 'clip' }, options.byHand);
  const clips = voices.flatMap((voice) => voice.clips);
  if (clips.length === 0) throw noClips();
  rolesOf(voices.map(roleName), options.lead);
  const { guide, lead, character, targetLufs, ceilingDbtp } = options;
  const target = resolve(options.outFolder);
  await refuseDecided(target);
  const choice = { wave: options.wave ?? 'pcm24', copy: options.copy ?? null };
  const sources = guide === undefined ? clips : [...clips, guide];
  const folder = await openRender(
    target,
    clips.map((clip) => takeNameOf(clip, null)),
    sources,
    choice,
  );
  let desk: Desk | undefined;
  let lock: SessionLock | undefined;
  let kept = false;
  try {
    lock = await SessionLock.take(target, 'the mix of a command line');
    desk = Desk.create(target, options.title ?? basename(target));
    desk.cache.sweep();
    const draft = new Draft(desk);
    draft.decide({ kind: 'setTarget', targetLufs, ceilingDbtp });
    const clean = { ...USUAL_CLEAN, on: character !== undefined, character: character ?? USUAL_CLEAN.character };
    const prepare = async () => {
      const { read, notes } = await bringIn(
        draft,
        { voices, apart: options.apart === true, guide, lead, clean },
        options,
      );
      return { read, notes: [...twice.map((file) => `${file} was named twice and is used once.`), ...notes] };
    };
    const report = await renderDraft(draft, folder, choice, prepare, options);
    kept = true;
    await keepGuide(draft, guide);
    await desk.save();
    return { report, folder: target };
  } catch (error) {
    throw workFault(error, target);
  } finally {
    await desk?.close();
    await lock?.release();
    if (!kept) await folder.abandon();
  }
}

/** Throws PartsongError 'target-exists' where somebody has decided something in the session of a folder. */
async function refuseDecided(folder: string): Promise<void> {
  const history = await new HistoryStore(folder).read().catch(() => undefined);
  if (typeof history !== 'object' || history.history.past.length === 0) return;
  throw new PartsongError(
    'target-exists',
    `${folder} holds a session in which things were chosen since it was mixed, and a new one would put them aside.`,
    `Mix it as it stands with "partsong mix ${folder}" (clips named behind it are added), or choose another folder.`,
    folder,
  );
}
