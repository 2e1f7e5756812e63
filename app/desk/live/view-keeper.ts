import type { Played } from '../../../core/session/played-figures.ts';
import { emptySession, type Session } from '../../../core/session/schema.ts';
import type { BlendView, DeskView, JobView, RenderView, StepName, TakeFacts } from '../../shell/contract/desk-view.ts';
import type { DeskEvent } from '../../shell/contract/events.ts';
import type { MadeGuideView, TrialView } from '../../shell/contract/guide-view.ts';
import type { IntonationView } from '../../shell/contract/intonation-view.ts';
import type { MadePictureView } from '../../shell/contract/picture-view.ts';
import { findMusic } from '../blend.ts';
import type { PictureProgress } from './picture-state.ts';
import { stepStates } from './step-states.ts';
import { clipFacts, type FaultWords, takeFacts } from './take-facts.ts';
import type { ClipProgress, TakeProgress } from './take-state.ts';

type Parts = Pick<
  DeskView,
  'takes' | 'guide' | 'blend' | 'steps' | 'jobs' | 'render' | 'madeGuide' | 'madePicture' | 'trials' | 'intonation'
>;
type Told = Partial<Omit<Parts, 'takes'>>;

/** What the parts of the view are made from, besides the takes. */
export interface PartsInput {
  readonly session: Session;
  readonly blend: BlendView | null;
  readonly render: RenderView | null;
  readonly madeGuide: MadeGuideView | null;
  readonly madePicture: MadePictureView | null;
  readonly trials: readonly TrialView[];
  /** The same object as long as nothing of it changes: it is long, and looked at often. */
  readonly intonation: IntonationView | null;
  readonly jobs: readonly JobView[];
  readonly busy: Readonly<Record<StepName, boolean>>;
}

/** Keeps what the screens were told, so that only what is new is told. */
export class ViewKeeper {
  readonly #inWords: FaultWords;
  readonly #takes = new Map<string, { facts: TakeFacts; text: string; soundKey: string | undefined }>();
  readonly #texts = new Map<string, string>();
  #guide: TakeFacts | null = null;
  #told: Omit<Parts, 'takes' | 'guide'> = {
    blend: null,
    steps: stepStates(NOTHING),
    jobs: [],
    render: null,
    madeGuide: null,
    madePicture: null,
    trials: [],
    intonation: null,
  };

  constructor(inWords: FaultWords) {
    this.#inWords = inWords;
  }

  get parts(): Parts {
    return { ...this.#told, guide: this.#guide, takes: this.#facts() };
  }

  /** Events for takes whose facts are new, and for takes that are gone. */
  takesAnew(
    session: Session,
    {
      takes,
      guide,
      pictures,
      figures,
    }: {
      readonly takes: readonly TakeProgress[];
      readonly guide: ClipProgress | undefined;
      readonly pictures: ReadonlyMap<string, PictureProgress>;
      /** Timing and pitch, by take id. */
      readonly figures: ReadonlyMap<string, Played>;
    },
  ): DeskEvent[] {
    const events: DeskEvent[] = [];
    const ids = new Set(session.takes.map((take) => take.id));
    for (const takeId of this.#takes.keys()) {
      if (ids.has(takeId)) continue;
      this.#takes.delete(takeId);
      events.push({ kind: 'take', takeId, facts: null });
    }
    const plan = session.guide?.plan ?? null;
    for (const progress of takes) {
      const { loudness } = progress;
      const { placement } = progress.take;
      const music = loudness === undefined || placement === null ? undefined : findMusic(loudness, placement, plan);
      const told = takeFacts(progress, music, this.#inWords, pictures.get(progress.id), plan);
      const facts = { ...told, played: figures.get(progress.id) ?? null };
      const text = JSON.stringify(facts);
      const before = this.#takes.get(progress.id);
      const soundKey = progress.sound?.key;
      const isOther = before !== undefined && before.soundKey !== soundKey;
      if (before?.text === text && !isOther) continue;
      this.#takes.set(progress.id, { facts, text, soundKey });
      // Whoever plays it fetches its sound anew when it was not to be had for a moment.
      if (isOther && before.facts.playable && facts.playable) {
        events.push({ kind: 'take', takeId: progress.id, facts: { ...facts, playable: false } });
      }
      events.push({ kind: 'take', takeId: progress.id, facts });
    }
    this.#guide = guide === undefined ? null : clipFacts(guide, this.#inWords);
    return events;
  }

  /** The parts that are new; undefined when none is. */
  partsAnew(input: PartsInput): Told | undefined {
    const { blend, render, jobs, madeGuide, madePicture, trials, intonation } = input;
    const guide = this.#guide;
    const steps = stepStates({ ...input, takes: this.#facts(), guide });
    const isHeardAnew = intonation !== this.#told.intonation;
    this.#told = { blend, render, jobs, steps, madeGuide, madePicture, trials, intonation };
    const told: Told = {
      ...this.#ifNew('guide', guide),
      ...this.#ifNew('blend', blend),
      ...this.#ifNew('steps', steps),
      ...this.#ifNew('jobs', jobs),
      ...this.#ifNew('render', render),
      ...this.#ifNew('madeGuide', madeGuide),
      ...this.#ifNew('madePicture', madePicture),
      ...this.#ifNew('trials', trials),
      ...(isHeardAnew ? { intonation } : {}),
    };
    return Object.keys(told).length === 0 ? undefined : told;
  }

  #ifNew<Name extends keyof Told>(name: Name, value: Told[Name]): Told {
    const text = JSON.stringify(value);
    if (this.#texts.get(name) === text) return {};
    this.#texts.set(name, text);
    return { [name]: value } as Told;
  }

  #facts(): Record<string, TakeFacts> {
    return Object.fromEntries([...this.#takes].map(([id, { facts }]) => [id, facts]));
  }
}

const NOTHING = {
  session: emptySession(''),
  takes: {},
  guide: null,
  blend: null,
  render: null,
  madePicture: null,
  trials: [],
  intonation: null,
  busy: {
    ...{ guide: false, soundCheck: false, takes: false, clean: false, lineUp: false },
    ...{ intonation: false, blend: false, picture: false, render: false },
  },
} as const;
