import { useEffect, useState } from 'react';
import { faultOf } from '../bridge/bridge-fault.ts';
import { tell, useDesk } from '../desk/desk-store.ts';
import { type BringTo, bringIn } from './bring-in.ts';
import { type DroppedEntry, filesOf } from './dropped-files.ts';
import './drop-layer.css';

interface Over {
  readonly to: BringTo;
  readonly words: string;
  /** The element that takes the files; null for the whole window. */
  readonly box: { readonly left: number; readonly top: number; readonly width: number; readonly height: number } | null;
}

/**
 * Takes files and folders dropped anywhere on the window, and says before they are let go what will become of them. An element
 * with `data-drop-voice="<voice id>"` takes them as more takes of that voice, one with `data-drop-guide` as the guide, with
 * `data-drop-score` as the score of the guide, with `data-drop-trial` as clips to be checked.
 */
export function DropLayer() {
  const [over, setOver] = useState<Over | null>(null);
  useEffect(() => {
    const onOver = (event: DragEvent): void => {
      if (event.dataTransfer === null || !event.dataTransfer.types.includes('Files')) return;
      event.preventDefault();
      event.dataTransfer.dropEffect = 'copy';
      const next = overAt(event.target);
      setOver((before) => (before !== null && sameOver(before, next) ? before : next));
    };
    const onLeave = (event: DragEvent): void => {
      if (event.relatedTarget === null) setOver(null);
    };
    const onDrop = (event: DragEvent): void => {
      if (event.dataTransfer === null || !event.dataTransfer.types.includes('Files')) return;
      event.preventDefault();
      setOver(null);
      takeDrop(event.dataTransfer, overAt(event.target).to).catch((error: unknown) => tell(faultOf(error)));
    };
    window.addEventListener('dragover', onOver);
    window.addEventListener('dragleave', onLeave);
    window.addEventListener('drop', onDrop);
    return () => {
      window.removeEventListener('dragover', onOver);
      window.removeEventListener('dragleave', onLeave);
      window.removeEventListener('drop', onDrop);
    };
  }, []);
  if (over === null) return null;
  return (
    <div className="drop-layer" aria-hidden="true">
      <div className="drop-target" style={over.box ?? { inset: 8 }} />
      <div className="drop-words">{over.words}</div>
    </div>
  );
}

async function takeDrop(data: DataTransfer, to: BringTo): Promise<void> {
  // Entries must be asked for before anything is awaited: the transfer is emptied then.
  const entries = [...data.items].map((item) => item.webkitGetAsEntry() as DroppedEntry | null);
  const plain = [...data.files];
  const known = entries.filter((entry) => entry !== null);
  const folder = known.find((entry) => entry.isDirectory)?.name ?? null;
  const files = known.length > 0 ? await filesOf(known) : plain;
  if (files.length > 0) return bringIn(files, to, folder);
  tell({
    code: 'clip-unreadable',
    message:
      folder === null ? 'Nothing was dropped that could be a clip.' : `There are no clips in the folder ${folder}.`,
    nextStep: 'Drop sound or video files, such as those your phone recorded, or a folder that holds them.',
    file: null,
  });
}

function overAt(target: EventTarget | null): Over {
  const { view } = useDesk.getState();
  if (view === null) return { to: { kind: 'newVoices' }, words: 'Begin a new session with these clips', box: null };
  const element =
    target instanceof Element
      ? target.closest<HTMLElement>('[data-drop-voice], [data-drop-guide], [data-drop-score], [data-drop-trial]')
      : null;
  const voice = view.session.voices.find((one) => one.id === element?.dataset['dropVoice']);
  if (element !== null && element.dataset['dropGuide'] !== undefined) {
    return { to: { kind: 'guide' }, words: 'Use this clip as the guide', box: boxOf(element) };
  }
  if (element !== null && element.dataset['dropScore'] !== undefined) {
    return { to: { kind: 'score' }, words: 'Make the guide from this score', box: boxOf(element) };
  }
  if (element !== null && element.dataset['dropTrial'] !== undefined) {
    return { to: { kind: 'trial' }, words: 'Check this clip', box: boxOf(element) };
  }
  if (element === null || voice === undefined) {
    return { to: { kind: 'newVoices' }, words: 'New voices: one for each clip', box: null };
  }
  return { to: { kind: 'voice', voiceId: voice.id }, words: `More takes of ${voice.name}`, box: boxOf(element) };
}

function boxOf(element: Element): Over['box'] {
  const { left, top, width, height } = element.getBoundingClientRect();
  return { left, top, width, height };
}

function sameOver(one: Over, other: Over): boolean {
  return one.words === other.words && one.box?.top === other.box?.top && one.box?.left === other.box?.left;
}
