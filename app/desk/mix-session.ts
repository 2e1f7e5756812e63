import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { Edit } from '../../core/session/edit.ts';
import type { Report } from '../../core/session/report.ts';
import type { CleanChoice, Session } from '../../core/session/schema.ts';
import { assignClips, takeNameOf } from './assignment.ts';
import { Cache } from './cache.ts';
import { newestRender, renderKey } from './kept-render.ts';
import type { ClipsWish } from './mix-clips.ts';
import { sessionFolderOf } from './open-session.ts';
import { withoutRepeats } from './session/add-takes.ts';
import { bringIn, keepGuide, USUAL_CLEAN } from './session/bring-in.ts';
import type { Draft } from './session/draft.ts';
import { voiceNamed } from './session/named.ts';
import { placeTakes } from './session/place-takes.ts';
import { readTakes } from './session/read-takes.ts';
import { soundingTakes } from './session/ready-takes.ts';
import {
  type BeforeRender,
  openRender,
  refuseOtherSession,
  renderDraft,
  soundingNames,
} from './session/render-session.ts';
import { type Running, withSession } from './session/session-work.ts';
import { SessionStore } from './session-store.ts';

export interface MixSessionOptions extends ClipsWish, Running {
  /** The session's folder, or its session.json. Clips come in as takes. */
  readonly session: string;
  /** Absent: the session's folder. */
  readonly outFolder?: string | undefined;
  /** What is named of these is changed in the session; what is not stays. */
  readonly targetLufs?: number | undefined;
  readonly ceilingDbtp?: number | undefined;
  readonly character?: CleanChoice['character'] | undefined;
  /** Whether the noise is taken out. */
  readonly clean?: boolean | undefined;
}

/**
 * Renders a session as it stands: what was decided in it, on screen or by a command, stays decided; takes that have no place yet
 * are lined up. Clips that are named come in as takes before. Throws PartsongError ('session-open', 'file-missing' for clips
 * that are away ...) or CancelledError; the session is then as it was.
 */
export async function mixSession(options: MixSessionOptions): Promise<{ report: Report; folder: string }> {
  const { clips: named, twice } = withoutRepeats(options.clips);
  const voices = assignClips(named, options.rule ?? { by: 'clip' }, options.byHand);
  const clips = voices.flatMap((voice) => voice.clips);
  const choice = { wave: options.wave ?? 'pcm24', copy: options.copy ?? null } as const;
  const { value, notes: opened } = await withSession(options.session, async (draft) => {
    const { desk } = draft;
    const target = resolve(options.outFolder ?? desk.folder);
    await refuseOtherSession(target, desk);
    if (options.lead !== undefined && clips.length === 0) voiceNamed(desk.session.voices, options.lead);
    const names = [...soundingNames(desk.session), ...clips.map((clip) => takeNameOf(clip, null))];
    const sources = soundingTakes(desk.session).map(({ clip }) => desk.fullPath(clip.path));
    const folder = await openRender(target, names, [...sources, ...clips], choice);
    const prepare = async (): Promise<BeforeRender> => {
      const told = twice.map((file) => `${file} was named twice and is used once.`);
      const brought = await prepared(draft, voices, options);
      return { read: brought.read, notes: [...told, ...brought.notes] };
    };
    let kept = false;
    try {
      const report = await renderDraft(draft, folder, choice, prepare, options);
      kept = true;
      await keepGuide(draft, options.guide);
      return { report, folder: target };
    } finally {
      if (!kept) await folder.abandon();
    }
  });
  const { report, folder } = value;
  return { report: { ...report, notes: [...opened, ...report.notes] }, folder };
}

async function prepared(
  draft: Draft,
  voices: ReturnType<typeof assignClips>,
  options: MixSessionOptions,
): Promise<BeforeRender> {
  const { guide } = options;
  const { desk } = draft;
  const apart = options.apart === true;
  const comes = voices.length > 0 || guide !== undefined;
  // What has to be read for its line-up is read with all that sounds: one step instead of two.
  const waits = draft.session.takes.some(({ placement }) => placement === null);
  const before = comes || !waits ? new Map() : await readTakes(soundingTakes(draft.session), desk, options);
  const { read, notes } = comes
    ? await bringIn(draft, { voices, apart, guide, clean: usualOf(draft.session) }, options)
    : { read: before, notes: [] };
  if (!comes) await placeTakes(draft, read, options);
  for (const edit of choicesOf(draft.session, options)) draft.decide(edit);
  return { read, notes };
}

/** New takes are cleaned as the others are, where these agree. */
function usualOf({ takes }: Session): CleanChoice {
  const choices = new Set(takes.map(({ clean }) => JSON.stringify(clean)));
  return choices.size === 1 ? takes[0]!.clean : USUAL_CLEAN;
}

/** What was said of the whole session besides: a step of undo each. */
function choicesOf(session: Session, options: MixSessionOptions): Edit[] {
  const edits: Edit[] = [];
  const { targetLufs, ceilingDbtp } = { ...session.mix, ...defined(options) };
  if (targetLufs !== session.mix.targetLufs || ceilingDbtp !== session.mix.ceilingDbtp)
    edits.push({ kind: 'setTarget', targetLufs, ceilingDbtp });
  if (options.lead !== undefined) {
    const lead = voiceNamed(session.voices, options.lead);
    const others = session.voices.filter(({ id, role }) => role === 'lead' && id !== lead.id);
    const single = [
      ...others.map(({ id }) => ({ kind: 'setRole', voiceId: id, role: 'inner' }) as const),
      ...(lead.role === 'lead' ? [] : [{ kind: 'setRole', voiceId: lead.id, role: 'lead' } as const]),
    ];
    if (single.length > 0)
      edits.push({ kind: 'together', label: `let ${lead.name} lead`.slice(0, 200), edits: single });
  }
  const { character, clean } = options;
  if (character !== undefined || clean !== undefined) {
    const single = session.takes.map((take) => {
      const on = clean ?? true;
      return {
        kind: 'setClean',
        takeId: take.id,
        clean: { ...take.clean, on, ...(character === undefined ? {} : { character, fine: null }) },
      } as const;
    });
    const changing = single.filter(
      ({ clean: wanted }, at) => JSON.stringify(wanted) !== JSON.stringify(session.takes[at]!.clean),
    );
    if (changing.length > 0) edits.push({ kind: 'together', label: 'clean all takes alike', edits: changing });
  }
  return edits;
}

function defined({ targetLufs, ceilingDbtp }: MixSessionOptions): Partial<Session['mix']> {
  return {
    ...(targetLufs === undefined ? {} : { targetLufs }),
    ...(ceilingDbtp === undefined ? {} : { ceilingDbtp }),
  };
}

/**
 * Whether the mix in a session's folder is known to be older than what was decided in the session since: picture and sound would
 * not go together. Nothing is written and no lock is taken. Throws PartsongError as reading a session does.
 */
export async function isMixDue(path: string): Promise<boolean> {
  const folder = sessionFolderOf(path);
  const { session } = await new SessionStore(folder).read();
  const caches = join(folder, 'caches');
  const render = existsSync(caches) ? newestRender(new Cache(caches)) : undefined;
  return render?.view.folder === folder && render.key !== renderKey(session);
}
