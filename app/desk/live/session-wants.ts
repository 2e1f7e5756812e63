import type { Edit } from '../../../core/session/edit.ts';
import { heardTakes } from '../../../core/session/passages.ts';
import type { Played } from '../../../core/session/played-figures.ts';
import type { Session, Take } from '../../../core/session/schema.ts';
import { findingsFor } from '../line-up-findings.ts';
import { GUIDE_ID } from '../missing-clips.ts';
import type { Bench } from './bench.ts';
import { needLineUp } from './line-up-work.ts';
import { type MixState, needMix } from './mix-work.ts';
import { needPicture, type PictureProgress } from './picture-state.ts';
import { PlayedState } from './played-state.ts';
import { type ClipProgress, needClip, needTake, type TakeProgress } from './take-state.ts';

/** What came of asking: amendments the line-up found for the session, and why it could not, if so. */
export interface Asked {
  readonly findings: Edit | undefined;
  readonly fault: unknown;
}

/** What a session wants of the workers, and how far each part of it is. */
export class SessionWants {
  takes: readonly TakeProgress[] = [];
  guide: ClipProgress | undefined;
  mix: MixState | undefined;
  pictures: ReadonlyMap<string, PictureProgress> = new Map();
  /** By take id. */
  figures: ReadonlyMap<string, Played> = new Map();
  readonly played = new PlayedState();
  /** What the page has said of pictures: whether it shows them, and which clips it cannot play. */
  readonly pictureWish = { isShown: false, cannotPlay: new Set<string>() };

  /** Asks the bench for all of it: what is known is taken, the rest is begun, and what is no longer wanted is stopped. */
  ask(bench: Bench, session: Session): Asked {
    bench.used.clear();
    bench.ledger.begin();
    this.guide = session.guide === null ? undefined : needClip(bench, GUIDE_ID, session.guide.clip);
    const plan = session.guide?.plan ?? null;
    const sounding = new Set(session.voices.flatMap((voice) => heardTakes(session, voice)));
    const asked = new Map<Take, TakeProgress>();
    const before = new Map(this.takes.map((progress) => [progress.id, progress]));
    // Takes that are heard come first.
    for (const heard of [true, false]) {
      for (const take of session.takes) {
        if (sounding.has(take) === heard) asked.set(take, needTake(bench, take, plan, before.get(take.id)));
      }
    }
    this.takes = session.takes.map((take) => asked.get(take)!);
    const { found, fault } = needLineUp(bench, this.takes, this.guide, plan);
    const findings = found === undefined ? undefined : findingsFor(session, found);
    this.mix = needMix(bench, session, this.takes, this.mix);
    this.pictures = new Map(
      this.takes.flatMap((take) => {
        const picture = needPicture(bench, take, this.pictureWish);
        return picture === undefined ? [] : [[take.id, picture] as const];
      }),
    );
    this.figures = this.played.need(bench, session, this.takes);
    bench.ledger.end();
    return { findings, fault };
  }
}
