import type { Edit } from '../../../core/session/edit.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { JobView, RenderView, StepName } from '../../shell/contract/desk-view.ts';
import type { Desk } from '../desk.ts';
import type { TakenIn } from '../take-in.ts';
import type { Bench } from './bench.ts';
import { ClipCalls } from './clip-calls.ts';
import type { FaultTeller } from './fault-teller.ts';
import { GatherWork } from './gather-work.ts';
import { GuideWork } from './guide-work.ts';
import { IntonationWork } from './intonation-work.ts';
import { Ledger, STAGES } from './ledger.ts';
import { MixReady } from './mix-ready.ts';
import { PictureWork } from './picture-work.ts';
import { RenderWork } from './render-work.ts';
import { SessionSounds } from './session-sounds.ts';
import type { SessionWants } from './session-wants.ts';
import { SideWorks } from './side-works.ts';
import { TrialWork } from './trial-work.ts';

/** What the works of an open session need of the desk that they belong to. */
export interface WorksOwner {
  readonly desk: Desk;
  readonly wants: SessionWants;
  readonly faults: FaultTeller;
  readonly apply: (edit: Edit) => void;
  /** All that is wanted is to be asked anew. */
  readonly lookSoon: () => void;
  /** A look is due, so that what is known of the mix may be old. */
  readonly isStale: () => boolean;
  readonly isClosed: () => boolean;
  /** The newest render, as the screens were told. */
  readonly render: () => RenderView | null;
  /** Something beside the ledger has moved: told at once, and its progress is watched. */
  readonly onMove: () => void;
  /** The same without a watch, for what is over at once. */
  readonly tellParts: () => void;
}

/** All that works on an open session: the ledger of what follows from it, and what somebody asks for beside that. */
export class DeskWorks {
  readonly ledger: Ledger;
  readonly bench: Bench;
  readonly ready: MixReady;
  readonly renders: RenderWork;
  readonly sounds: SessionSounds;
  readonly clips: ClipCalls;
  readonly guides: GuideWork;
  readonly trials: TrialWork;
  readonly gathering: GatherWork;
  readonly videos: PictureWork;
  readonly pitch: IntonationWork;
  readonly side: SideWorks;

  constructor(owner: WorksOwner) {
    const { desk, wants, faults, apply, onMove, render } = owner;
    const { inWords } = faults;
    const onFault = (fault: unknown): void => faults.tell(fault);
    this.ledger = new Ledger(desk.pool.threads, owner.lookSoon);
    this.bench = {
      ledger: this.ledger,
      cache: desk.cache,
      pool: desk.pool,
      placed: new Map(),
      anew: new Set(),
      used: new Set(),
      fullPath: (kept) => desk.fullPath(kept),
    };
    const { isStale, isClosed } = owner;
    this.ready = new MixReady({ ledger: this.ledger, mix: () => wants.mix, isStale, isClosed });
    const mixReady = this.ready.settled.bind(this.ready);
    this.renders = new RenderWork(desk.cache);
    this.sounds = new SessionSounds(
      desk,
      () => wants,
      render,
      (voiceId) => wants.mix?.parts.find((part) => part.voice.id === voiceId),
    );
    const lookAnew = (): void => {
      this.ledger.forget('look:');
      owner.lookSoon();
    };
    this.clips = new ClipCalls({ desk, apply, lookAnew, onMove: owner.tellParts, inWords });
    this.guides = new GuideWork({ desk, apply, onMove, onFault });
    this.trials = new TrialWork({
      desk,
      guide: () => plannedGuide(desk, wants),
      take: (takeId) => wants.takes.find((one) => one.id === takeId),
      onMove,
      inWords,
    });
    this.gathering = new GatherWork({ desk, mixReady, render, onMove });
    this.videos = new PictureWork({
      desk,
      mixReady,
      takes: () => wants.takes,
      render,
      wave: (takeId) => this.sounds.waveOf(takeId, 'after'),
      onMove,
      onFault,
    });
    this.pitch = new IntonationWork({ desk, takes: () => wants.takes, onMove, inWords });
    const { clips, renders, guides, trials, videos, gathering, pitch } = this;
    this.side = new SideWorks([clips, renders, guides, trials, videos, gathering, pitch]);
  }

  jobs(): readonly JobView[] {
    return [...this.ledger.jobs(), ...this.side.jobs()];
  }

  isBusy(): boolean {
    return this.ledger.isBusy(...STAGES) || this.side.jobs().length > 0;
  }

  /** Which steps of the running order something works for. */
  busySteps(): Readonly<Record<StepName, boolean>> {
    const { ledger } = this;
    const side = this.side.jobs();
    const isAt = (kind: JobView['kind']): boolean => side.some((job) => job.kind === kind);
    return {
      guide: isAt('guide'),
      soundCheck: isAt('check'),
      takes: ledger.isBusy('look', 'takeIn'),
      clean: ledger.isBusy('clean'),
      lineUp: ledger.isBusy('lineUp'),
      intonation: isAt('pitch') || ledger.isBusy('mend'),
      blend: ledger.isBusy('measure', 'master'),
      picture: isAt('picture') || ledger.isBusy('proxy'),
      render: isAt('render'),
    };
  }

  /** Ends all of it, and puts away what nothing asks for any more. */
  async close(): Promise<void> {
    const { ledger, side, bench } = this;
    this.ready.wake();
    const settled = !ledger.isBusy('look', 'takeIn', 'wave', 'lineUp', 'clean', 'mend', 'measure', 'pitch');
    const [isStill] = await Promise.all([ledger.close(), side.close()]);
    // What was not looked at may still be of use.
    if (settled && isStill) bench.cache.prune(new Set([...bench.used, ...side.usedKeys()]));
  }
}

/** The guide with its plan, where both are there to check a trial by. */
function plannedGuide({ session }: Desk, { guide }: SessionWants): { taken: TakenIn; plan: KeptPlan } | undefined {
  const taken = guide?.taken;
  const plan = session.guide?.plan;
  return taken === undefined || plan == null || guide?.look !== 'there' ? undefined : { taken, plan };
}
