import type { TileMoment } from '../../core/picture/moments.ts';
import { type PictureDesign, type SessionSpan, withTile } from '../../core/picture/picture-design.ts';
import type { Session } from '../../core/session/schema.ts';
import { PartsongError } from '../../core/signal/fault.ts';
import type { MixedSession, SeenTake } from './session-pictures.ts';
import { solosOfSession } from './session-solos.ts';
import { barsOf } from './trim.ts';

/** When something happens to a voice's tile, as it was given. */
export interface GivenMoment {
  /** null: every voice. */
  readonly voiceId: string | null;
  readonly when: { readonly kind: 'solo' } | { readonly kind: 'span'; readonly span: SessionSpan };
}

/** What was given for the tiles: when they are seen at all, and when they are large. */
export interface GivenMoments {
  readonly enter: readonly GivenMoment[];
  readonly grow: readonly GivenMoment[];
}

/**
 * The design with what was given. A voice that enters is away outside of it; one that grows is large then, besides what
 * was settled before. Throws PartsongError 'bad-option' for a solo that nobody has.
 */
export async function withGivenMoments(
  design: PictureDesign,
  given: GivenMoments,
  mixed: MixedSession,
  takes: ReadonlyMap<string, SeenTake>,
  signal: AbortSignal,
): Promise<PictureDesign> {
  const { session } = mixed;
  const wantsSolos = [...given.enter, ...given.grow].some(({ when }) => when.kind === 'solo');
  const solos = wantsSolos ? await solosOfSession(mixed, takes, signal) : new Map<string, readonly SessionSpan[]>();
  const spansFor = (moments: readonly GivenMoment[]): Map<string, SessionSpan[]> => {
    const spans = new Map<string, SessionSpan[]>();
    for (const { voiceId, when } of moments) {
      const ids = voiceId === null ? session.voices.map(({ id }) => id) : [voiceId];
      for (const id of ids) {
        const found = when.kind === 'span' ? [when.span] : (solos.get(id) ?? []);
        if (found.length === 0 && voiceId !== null) throw withoutSolo(session, id);
        if (found.length > 0) spans.set(id, [...(spans.get(id) ?? []), ...found]);
      }
    }
    return spans;
  };
  const of = (voiceId: string): readonly TileMoment[] =>
    design.tiles.find((tile) => tile.voiceId === voiceId)?.moments ?? [];
  let made = design;
  for (const [voiceId, spans] of spansFor(given.enter)) {
    const sorted = spans.toSorted((one, other) => one.fromSec - other.fromSec);
    const [first, last] = [sorted[0]!, sorted.at(-1)!];
    const gaps = sorted.slice(1).flatMap(({ fromSec }, index): TileMoment[] => {
      const after = sorted[index]!.toSec;
      return fromSec > after ? [{ fromSec: after, toSec: fromSec, as: 'away', soft: true }] : [];
    });
    const span = { fromSec: first.fromSec, toSec: last.toSec };
    made = withTile(made, voiceId, { span, moments: [...of(voiceId), ...gaps] });
  }
  for (const [voiceId, spans] of spansFor(given.grow)) {
    const before = made.tiles.find((tile) => tile.voiceId === voiceId)?.moments ?? [];
    const large = spans.map((span): TileMoment => ({ ...span, as: 'large', soft: true }));
    made = withTile(made, voiceId, { moments: [...before, ...large] });
  }
  return made;
}

function withoutSolo(session: Session, voiceId: string): PartsongError {
  const name = session.voices.find(({ id }) => id === voiceId)?.name ?? voiceId;
  return new PartsongError(
    'bad-option',
    `${name} sounds nowhere alone or clearly before the others for three seconds, so no solo was found.`,
    'Give bars or times instead, for example --grow NAME=17-24 or --grow NAME=0:40-0:55.',
  );
}

/** Reads when: `solo`; `5-12`, bars where the guide has them; else FROM-TO by `parseTime`. Throws PartsongError 'bad-option'. */
export function readWhen(
  text: string,
  session: Session,
  parseTime: (text: string) => SessionSpan,
): GivenMoment['when'] {
  if (text === 'solo') return { kind: 'solo' };
  const bars = /^(\d+)-(\d+)$/.exec(text);
  const hasBars = (session.guide?.plan?.bars.length ?? 0) > 0;
  if (bars === null || !hasBars) return { kind: 'span', span: parseTime(text) };
  return { kind: 'span', span: barsOf({ fromBar: Number(bars[1]), toBar: Number(bars[2]) }, session) };
}
