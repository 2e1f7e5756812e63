import { useState } from 'react';
import type { CallOutput } from '../../../app/shell/contract/calls.ts';
import { heardTakes } from '../../../core/session/passages.ts';
import { ask, theBridge, useView } from '../../desk/desk-store.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { sizeWords } from '../render/render-plan.ts';

type Kind = 'otio' | 'edl';

/** Bytes a second of the mix, about: 24 bits of two channels at 48 kHz. */
const MIX_BYTES_PER_SEC = 288_000;

/** For people who finish elsewhere: clips, stems, mix and an edit list in one folder. */
export function GatherPart() {
  const view = useView();
  const { session, folder, blend, render, jobs } = view;
  const [kind, setKind] = useState<Kind>('otio');
  const [links, setLinks] = useState(false);
  const [done, setDone] = useState<CallOutput<'gatherClips'> | null>(null);
  const clips = new Map(
    session.voices.flatMap((voice) => heardTakes(session, voice)).map(({ clip }) => [clip.path, clip.sizeBytes]),
  );
  const stems = render?.current === true ? render.files.filter(({ what }) => what === 'stem') : [];
  const mixBytes = ((blend?.lengthFrames ?? 0) / 48000) * MIX_BYTES_PER_SEC;
  const withStems = kind === 'otio' ? stems : [];
  const sizeBytes =
    [...clips.values(), ...withStems.map((stem) => stem.sizeBytes)].reduce((sum, size) => sum + size, 0) + mixBytes;
  const isBusy = jobs.some((job) => job.kind === 'picture');
  const gather = async (): Promise<void> => {
    setDone(null);
    const answer = await ask((bridge) => bridge.calls.gatherClips({ folder: null, kind, links }));
    if (answer != null) setDone(answer);
  };
  return (
    <section className="picture-part" aria-labelledby="picture-gather">
      <h3 id="picture-gather">To finish elsewhere</h3>
      <p className="small faint">
        Copies {clips.size} {clips.size === 1 ? 'clip' : 'clips'}
        {withStems.length > 0 ? `, ${withStems.length} stems` : ''} and the mix into {folder}
        {folder.includes('\\') ? '\\' : '/'}gathered, about {sizeWords(sizeBytes)}, with a list of where each lies in
        time. Another program finds all of it there, wherever the folder goes. Your clips stay as they are.
      </p>
      {kind === 'otio' && stems.length === 0 && (
        <p className="small faint">Stems come along when they were rendered (in Render) since the last change.</p>
      )}
      <Choice
        label="The list"
        value={kind}
        options={[
          { value: 'otio', label: 'OpenTimelineIO' },
          { value: 'edl', label: 'CMX 3600' },
        ]}
        onChange={setKind}
      />
      <label className="tick">
        <input type="checkbox" checked={links} onChange={(event) => setLinks(event.target.checked)} />
        <span>Link files of the same disk instead of copying them</span>
      </label>
      <div className="picture-row">
        <Button disabled={isBusy || blend === null} onClick={() => void gather()}>
          Gather
        </Button>
        {done !== null && theBridge().door === 'window' && (
          <Button small onClick={() => void ask((bridge) => bridge.calls.reveal({ path: done.folder }))}>
            Show the folder
          </Button>
        )}
      </div>
      <div role="status" className="small">
        {done !== null && (
          <p>
            {done.files} files and {done.list} lie in <span className="path">{done.folder}</span>,{' '}
            {sizeWords(done.sizeBytes)}.
          </p>
        )}
        {done?.notes.map((note) => (
          <p key={note} className="faint">
            {note}
          </p>
        ))}
      </div>
    </section>
  );
}
