import type { Role, Voice } from '../../../core/session/schema.ts';
import { edit } from '../../desk/desk-store.ts';

const roleWords: Readonly<Record<Role, string>> = { lead: 'lead', inner: 'inner voice', bass: 'bass', free: 'free' };

/** What a voice does in the piece. */
export function RoleChoice({ voice }: { voice: Voice }) {
  return (
    <select
      className="takes-role"
      aria-label={`Role of ${voice.name}`}
      title="Lead stands out a little, inner voices lie below it, bass carries, free is left at the common level"
      value={voice.role}
      onChange={(event) => edit({ kind: 'setRole', voiceId: voice.id, role: event.target.value as Role })}
    >
      {Object.entries(roleWords).map(([role, words]) => (
        <option key={role} value={role}>
          {words}
        </option>
      ))}
    </select>
  );
}
