/**
 * Steps from an older version of session.json to the next; index 0 lifts version 1 to 2. Each takes the document as it was
 * parsed, and leaves alone what makes no sense: the schema then names it.
 */
export const migrations: readonly ((old: Record<string, unknown>) => Record<string, unknown>)[] = [
  withFineSettings,
  withGuidePlan,
  withPassages,
  withPicture,
  withBends,
];

/** Version 2 lets single settings of the cleaning be moved. */
function withFineSettings(old: Record<string, unknown>): Record<string, unknown> {
  const takes = Array.isArray(old['takes']) ? old['takes'] : [];
  return {
    ...old,
    version: 2,
    takes: takes.map((take: unknown) => {
      if (!isRecord(take) || !isRecord(take['clean'])) return take;
      return { ...take, clean: { fine: null, ...take['clean'] } };
    }),
  };
}

/** Version 3 keeps the plan of a guide. */
function withGuidePlan(old: Record<string, unknown>): Record<string, unknown> {
  const guide = old['guide'];
  return { ...old, version: 3, guide: isRecord(guide) ? { plan: null, ...guide } : guide };
}

/** Version 4 lets a voice be made of passages, and a player mark takes. */
function withPassages(old: Record<string, unknown>): Record<string, unknown> {
  const each = (list: unknown, more: Record<string, unknown>): unknown =>
    Array.isArray(list) ? list.map((one: unknown) => (isRecord(one) ? { ...one, ...more } : one)) : list;
  return {
    ...old,
    version: 4,
    voices: each(old['voices'], { passages: null }),
    takes: each(old['takes'], { mark: 'none', remark: '' }),
  };
}

/** Version 5 keeps what is chosen for the picture. */
function withPicture(old: Record<string, unknown>): Record<string, unknown> {
  return { picture: null, ...old, version: 5 };
}

/** Version 6 knows clocks that change, takes that are a part of a clip, and what is mended: all may be absent. */
function withBends(old: Record<string, unknown>): Record<string, unknown> {
  return { ...old, version: 6 };
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
