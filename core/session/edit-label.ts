import { assertNever } from '../signal/fault.ts';
import type { Edit } from './edit.ts';
import type { Session } from './schema.ts';

/**
 * What an edit does, in a few words for people: "rename Tenor". `sessions`: where the names of voices and takes are
 * looked up, the first that knows one counts (the session before the edit, then the one after it).
 */
export function editLabel(edit: Edit, ...sessions: readonly Session[]): string {
  const voice = (id: string): string => nameIn(sessions, 'voices', id) ?? 'a voice';
  const take = (id: string): string => nameIn(sessions, 'takes', id) ?? 'a take';
  switch (edit.kind) {
    case 'addVoice':
      return `add ${edit.voice.name}`;
    case 'removeVoice':
      return `remove ${voice(edit.voiceId)}`;
    case 'moveVoice':
      return `move ${voice(edit.voiceId)}`;
    case 'renameVoice':
      return `rename ${voice(edit.voiceId)}`;
    case 'setRole':
      return `role of ${voice(edit.voiceId)}`;
    case 'setColour':
      return `colour of ${voice(edit.voiceId)}`;
    case 'setTrim':
      return `fine move of ${voice(edit.voiceId)}`;
    case 'setPlace':
      return `place of ${voice(edit.voiceId)}`;
    case 'setMuted':
      return edit.muted ? `mute ${voice(edit.voiceId)}` : `let ${voice(edit.voiceId)} sound`;
    case 'chooseTake':
      return edit.takeId === null
        ? `choose no take for ${voice(edit.voiceId)}`
        : `choose ${take(edit.takeId)} for ${voice(edit.voiceId)}`;
    case 'setPassages':
      return `passages of ${voice(edit.voiceId)}`;
    case 'addTake':
      return `add ${edit.take.name}`;
    case 'removeTake':
      return `remove ${take(edit.takeId)}`;
    case 'moveTake':
      return `give ${take(edit.takeId)} to ${voice(edit.voiceId)}`;
    case 'renameTake':
      return `rename ${take(edit.takeId)}`;
    case 'setMark':
      return `mark of ${take(edit.takeId)}`;
    case 'setRemark':
      return `remark on ${take(edit.takeId)}`;
    case 'setSilence':
      return `silence of ${take(edit.takeId)}`;
    case 'setClean':
      return `cleaning of ${take(edit.takeId)}`;
    case 'setPlacement':
    case 'changePlacement':
      return `placement of ${take(edit.takeId)}`;
    case 'setMend':
      return edit.mend === null ? `leave ${take(edit.takeId)} as played` : `mend ${take(edit.takeId)}`;
    case 'setPart':
      return `part of the clip that ${take(edit.takeId)} is`;
    case 'relinkTake':
      return `file of ${take(edit.takeId)}`;
    case 'setGuide':
      return edit.clip === null ? 'remove the guide' : 'choose the guide';
    case 'setTitle':
      return 'title';
    case 'setTarget':
      return 'target and ceiling';
    case 'setPicture':
      return edit.parts === null ? 'picture as at first' : partsLabel(Object.keys(edit.parts));
    case 'setTile':
      return `tile of ${voice(edit.voiceId)}`;
    case 'together':
      return edit.label;
    default:
      return assertNever(edit);
  }
}

const partNames: Readonly<Record<string, string>> = {
  canvas: 'canvas',
  rate: 'picture rate',
  tiling: 'tiling',
  leadVoiceId: 'voice in the lead',
  background: 'background',
  roundingPx: 'corners',
  borderPx: 'borders',
  borderColour: 'borders',
  matched: 'light and colour of the clips',
  names: 'names',
  title: 'title card',
  fade: 'fades of the picture',
  span: 'start and end of the video',
  tiles: 'tiles',
};

function partsLabel(parts: readonly string[]): string {
  const [first] = parts;
  if (parts.includes('canvas')) return 'canvas';
  return (first === undefined ? undefined : partNames[first]) ?? 'picture';
}

function nameIn(sessions: readonly Session[], where: 'voices' | 'takes', id: string): string | undefined {
  for (const session of sessions) {
    const found = session[where].find((one) => one.id === id);
    if (found !== undefined) return found.name;
  }
  return undefined;
}
