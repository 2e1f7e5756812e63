import { describe, expect, it } from 'vitest';
import { renderKey } from '../../../app/desk/kept-render.ts';
import { SOUND_VERSIONS } from '../../../app/desk/steps.ts';
import { apply } from '../../../core/session/edit.ts';
import { benchSession } from '../../renderer/steps/bench-session.ts';

describe('the key of a render', () => {
  const session = benchSession(2);

  it('stays while nothing that is heard changes: a colour, a mark', () => {
    const painted = apply(session, { kind: 'setColour', voiceId: 'voice-1', colour: 5 });
    const marked = apply(session, { kind: 'setMark', takeId: 'take-2', mark: 'good' });
    expect(renderKey(painted)).toBe(renderKey(session));
    expect(renderKey(marked)).toBe(renderKey(session));
  });

  it('is another when a voice is softer, or when any step that shapes the sound has another version', () => {
    const softer = apply(session, { kind: 'setTrim', voiceId: 'voice-1', trimDb: -3 });
    expect(renderKey(softer)).not.toBe(renderKey(session));
    const keys = SOUND_VERSIONS.map((_, at) =>
      renderKey(
        session,
        SOUND_VERSIONS.map((version, other) => (other === at ? version - 1 : version)),
      ),
    );
    expect(new Set([...keys, renderKey(session)]).size).toBe(SOUND_VERSIONS.length + 1);
  });
});
