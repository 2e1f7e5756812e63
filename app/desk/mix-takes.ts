import type { Edit } from '../../core/session/edit.ts';
import type { KeptPlan } from '../../core/session/kept-plan.ts';
import type { Placement, Role } from '../../core/session/schema.ts';
import type { WorkPool } from '../work/pool.ts';
import type { AssignedVoice } from './assignment.ts';
import type { Attempt } from './attempts.ts';
import type { Cache } from './cache.ts';
import type { Desk } from './desk.ts';
import type { GuideFile } from './guide-file.ts';
import { type JudgeOptions, judgeAttempts } from './judge-attempts.ts';
import type { TakenIn } from './take-in.ts';

/** Which take of each voice is mixed, and why, where it has several. */
export interface MixChoice {
  /** One a voice, in their order: places among all takes. */
  readonly indices: readonly number[];
  readonly notes: readonly string[];
}

/** The proposed take of each voice; nothing is judged where every voice has but one. Where none can be used it is the first. */
export async function chosenOf(
  attempts: readonly Attempt[],
  placements: readonly Placement[],
  guide: GuideFile | undefined,
  cache: Cache,
  pool: WorkPool,
  options: Omit<JudgeOptions, 'played'>,
): Promise<MixChoice> {
  const voices = Math.max(0, ...attempts.map(({ voice }) => voice + 1));
  const firstOf = (voice: number): number => attempts.findIndex((attempt) => attempt.voice === voice);
  if (attempts.length === voices) return { indices: attempts.map((_, index) => index), notes: [] };
  const judged = await judgeAttempts(
    attempts,
    placements.map((placement) => ({ placement, found: placement })),
    cache,
    pool,
    { ...options, played: { score: guide?.score, plan: guide?.plan } },
  );
  const notes = judged.flatMap(({ takes, best }) =>
    best === null || takes.length < 2
      ? []
      : [`Of ${takes.length} takes ${attempts[best.index]!.name} is mixed. ${best.reason}`],
  );
  return { indices: judged.map(({ best }, voice) => best?.index ?? firstOf(voice)), notes };
}

/** What a session of a mix holds. */
export interface MixTakes {
  readonly voices: readonly AssignedVoice[];
  readonly roles: readonly Role[];
  readonly attempts: readonly Attempt[];
  readonly placements: readonly Placement[];
  /** One a voice: places among the takes. */
  readonly chosen: readonly number[];
  readonly guide: TakenIn | undefined;
  readonly plan: KeptPlan | null;
}

/** Puts voices and all their takes into a new session, with the takes that are mixed chosen. */
export function fillMixSession(
  desk: Desk,
  options: {
    readonly targetLufs: number;
    readonly ceilingDbtp: number;
    readonly character?: 'gentle' | 'even' | 'firm' | undefined;
  },
  { voices, roles, attempts, placements, chosen, guide, plan }: MixTakes,
): void {
  const refOf = (take: TakenIn) => ({
    path: desk.keptPath(take.file),
    sizeBytes: take.sizeBytes,
    fingerprint: take.fingerprint,
  });
  desk.apply({ kind: 'setTarget', targetLufs: options.targetLufs, ceilingDbtp: options.ceilingDbtp });
  if (guide !== undefined) desk.apply({ kind: 'setGuide', clip: refOf(guide), plan });
  voices.forEach(({ name }, voice) => {
    const voiceId = `voice-${voice + 1}`;
    const takes = attempts.flatMap((attempt, index): Exclude<Edit, { kind: 'together' }>[] => {
      if (attempt.voice !== voice) return [];
      return [
        {
          kind: 'addTake',
          take: {
            id: `take-${index + 1}`,
            name: attempt.name,
            voiceId,
            clip: refOf(attempt.taken),
            silence: null,
            clean: {
              on: options.character !== undefined,
              character: options.character ?? 'even',
              rule: 'lsa',
              fine: null,
            },
            placement: placements[index]!,
            mark: attempt.isBrokenOff ? 'no' : 'none',
            remark: '',
            part: attempt.part,
            mend: null,
          },
        },
      ];
    });
    desk.apply({
      kind: 'together',
      label: `Add ${name}`.slice(0, 200),
      edits: [
        {
          kind: 'addVoice',
          voice: {
            id: voiceId,
            name: name.slice(0, 200),
            role: roles[voice]!,
            colour: voice % 6,
            trimDb: 0,
            placeDeg: null,
            muted: false,
            chosenTakeId: null,
            passages: null,
          },
        },
        ...takes,
        { kind: 'chooseTake', voiceId, takeId: `take-${chosen[voice]! + 1}` },
      ],
    });
  });
}
