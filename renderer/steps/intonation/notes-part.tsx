import { useEffect, useMemo, useRef, useState } from 'react';
import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import { WARN_CENTS, WARN_MS } from '../../../core/pitch/audibility.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import { useBench } from '../../desk/bench-store.ts';
import { showInLanes } from '../../lanes/lane-overlay.ts';
import { Button } from '../../parts/button.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Explain } from '../../parts/explain.tsx';
import { Field } from '../../parts/field.tsx';
import { change, figure } from '../../parts/numbers.ts';
import { StateSign } from '../../parts/state-sign.tsx';
import { NumberField } from '../drawing/number-field.tsx';
import { useIntonation } from './intonation-store.ts';
import { isNoteOut, noteName, whereWords } from './intonation-words.ts';
import { filteredRows, type NoteRow, noteRows, type RowFilter, type RowOrder, sortedRows } from './note-rows.ts';
import { pickNote } from './use-pitch-overlay.ts';

const ALL = 'all';
/** So many rows are written at first; a long piece has thousands. */
const FIRST_ROWS = 150;

interface NotesPartProps {
  readonly report: PitchReportView;
  readonly plan: KeptPlan | null;
}

/** Every note with its cents and its beginning; in words what the lanes draw. */
export function NotesPart({ report, plan }: NotesPartProps) {
  const inHand = useBench((state) => state.voiceId);
  const [chosen, setChosen] = useState<string | null>(null);
  const [filter, setFilter] = useState<RowFilter>({ by: 'none' });
  const [order, setOrder] = useState<{ readonly by: RowOrder; readonly isTurned: boolean }>({
    by: 'time',
    isTurned: false,
  });
  const [isWhole, setWhole] = useState(false);
  const voices = report.intonation?.voices.filter(({ notes }) => notes.length > 0) ?? [];
  // Another voice in hand is shown at once.
  // biome-ignore lint/correctness/useExhaustiveDependencies: the voice in hand is what it follows
  useEffect(() => setChosen(null), [inHand]);
  const voiceId = chosen ?? voices.find(({ id }) => id === inHand)?.id ?? voices[0]?.id ?? ALL;
  const all = useMemo(() => noteRows(report), [report]);
  const rows = useMemo(() => {
    const own = voiceId === ALL ? all : all.filter((row) => row.voiceId === voiceId);
    return sortedRows(filteredRows(own, filter), order.by, order.isTurned);
  }, [all, voiceId, filter, order]);
  const count = voiceId === ALL ? all.length : all.filter((row) => row.voiceId === voiceId).length;
  const missing = report.voices
    .filter(({ id }) => voiceId === ALL || id === voiceId)
    .reduce((sum, { notesWritten, notesMatched }) => sum + ((notesWritten ?? 0) - (notesMatched ?? 0)), 0);
  const sortBy = (by: RowOrder): void =>
    setOrder((before) => ({ by, isTurned: before.by === by ? !before.isTurned : false }));
  return (
    <section className="intonation-part" aria-labelledby="intonation-notes-title">
      <h3 id="intonation-notes-title">Note by note</h3>
      <div className="intonation-choices">
        <Field label="Voice">
          {(ids) => (
            <select {...ids} value={voiceId} onChange={(event) => setChosen(event.target.value)}>
              {voices.map(({ id, name }) => (
                <option key={id} value={id}>
                  {name}
                </option>
              ))}
              <option value={ALL}>All voices</option>
            </select>
          )}
        </Field>
        <Filter filter={filter} onChange={setFilter} />
        <p className="small faint" role="status">
          {rows.length === count ? `${count} notes` : `${rows.length} of ${count} notes`}
          {missing > 0 && `; ${missing} written ${missing === 1 ? 'note was' : 'notes were'} not found, or too short`}
        </p>
      </div>
      <Table
        rows={isWhole ? rows : rows.slice(0, FIRST_ROWS)}
        plan={plan}
        order={order}
        sortBy={sortBy}
        withVoice={voiceId === ALL}
      />
      {!isWhole && rows.length > FIRST_ROWS && (
        <Button small onClick={() => setWhole(true)}>
          Show all {rows.length} notes
        </Button>
      )}
    </section>
  );
}

interface FilterProps {
  readonly filter: RowFilter;
  readonly onChange: (filter: RowFilter) => void;
}

function Filter({ filter, onChange }: FilterProps) {
  return (
    <>
      <Choice<RowFilter['by']>
        label="Shown"
        value={filter.by}
        options={[
          { value: 'none', label: 'all notes' },
          { value: 'cents', label: 'out of tune' },
          { value: 'ms', label: 'early or late' },
        ]}
        onChange={(by) =>
          onChange(by === 'none' ? { by } : by === 'cents' ? { by, above: WARN_CENTS } : { by, above: WARN_MS })
        }
      />
      {filter.by !== 'none' && (
        <NumberField
          label="off by more than"
          unit={filter.by === 'cents' ? 'cents' : 'ms'}
          value={filter.above}
          lowest={0}
          highest={500}
          step={1}
          digits={0}
          onSet={(above) => onChange({ ...filter, above })}
        />
      )}
    </>
  );
}

interface TableProps {
  readonly rows: readonly NoteRow[];
  readonly plan: KeptPlan | null;
  readonly order: { readonly by: RowOrder; readonly isTurned: boolean };
  readonly sortBy: (by: RowOrder) => void;
  readonly withVoice: boolean;
}

const HEADS: readonly { readonly by: RowOrder; readonly words: string; readonly isNumber: boolean }[] = [
  { by: 'time', words: 'Where', isNumber: false },
  { by: 'pitch', words: 'Note', isNumber: false },
  { by: 'cents', words: 'Off, cents', isNumber: true },
  { by: 'late', words: 'Late (+) or early (−), ms', isNumber: true },
];

function Table({ rows, plan, order, sortBy, withVoice }: TableProps) {
  const note = useIntonation((state) => state.note);
  const inHand = useRef<HTMLTableRowElement>(null);
  const box = useRef<HTMLDivElement>(null);
  // biome-ignore lint/correctness/useExhaustiveDependencies: another note in hand is what has to be brought into sight
  useEffect(() => {
    if (inHand.current !== null && box.current !== null) showRow(box.current, inHand.current);
  }, [note]);
  if (rows.length === 0) return <p>No note is off by that much.</p>;
  return (
    <div className="intonation-table intonation-notes-table" ref={box}>
      <table>
        <thead>
          <tr>
            {withVoice && <th scope="col">Voice</th>}
            {HEADS.map(({ by, words, isNumber }) => (
              <th
                key={by}
                scope="col"
                className={isNumber ? 'number' : undefined}
                aria-sort={order.by !== by ? 'none' : order.isTurned ? 'descending' : 'ascending'}
              >
                <button type="button" className="intonation-sort" onClick={() => sortBy(by)}>
                  {words} <span aria-hidden="true">{order.by !== by ? '' : order.isTurned ? '▴' : '▾'}</span>
                </button>
              </th>
            ))}
            <th scope="col">
              <Explain word="cents">Exact to</Explain>
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => {
            const isInHand = note?.voiceId === row.voiceId && note.at === row.at;
            return (
              <tr
                key={`${row.voiceId} ${row.at}`}
                ref={isInHand ? inHand : undefined}
                className={isInHand ? 'intonation-row-in-hand' : undefined}
                aria-current={isInHand ? 'true' : undefined}
              >
                {withVoice && <td>{row.voiceName}</td>}
                <th scope="row">
                  <button
                    type="button"
                    className="intonation-row-button"
                    onClick={() => {
                      pickNote({ voiceId: row.voiceId, at: row.at });
                      showInLanes(row.note);
                    }}
                  >
                    {whereWords(plan, row.note)}
                  </button>
                </th>
                <td>{noteName(row.note.key)}</td>
                <td className="number">
                  {isNoteOut(row.note) && <StateSign state="lookHere" />} {change(Math.round(row.note.offCents) + 0, 0)}
                </td>
                <td className="number">
                  {isLateNote(row) && <StateSign state="lookHere" />}{' '}
                  {row.late === null ? '–' : change(Math.round(row.late.ms) + 0, 0)}
                </td>
                <td className="small faint">
                  ± {figure(2 * row.note.uncertaintyCents, 0)} cents
                  {row.late === null ? '' : `, ± ${figure(2 * row.late.uncertaintyMs, 0)} ms`}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}

/** Scrolls the table alone, never what lies around it. */
function showRow(box: HTMLElement, row: HTMLElement): void {
  const head = box.querySelector('thead')?.offsetHeight ?? 0;
  const top = row.offsetTop - head;
  if (top < box.scrollTop) box.scrollTop = top;
  else if (row.offsetTop + row.offsetHeight > box.scrollTop + box.clientHeight) {
    box.scrollTop = row.offsetTop + row.offsetHeight - box.clientHeight;
  }
}

/** A beginning that is early or late beyond doubt. */
function isLateNote({ late }: NoteRow): boolean {
  return late !== null && Math.abs(late.ms) >= WARN_MS && Math.abs(late.ms) > 2 * late.uncertaintyMs;
}
