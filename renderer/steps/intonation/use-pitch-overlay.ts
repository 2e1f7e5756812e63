import { useEffect, useMemo, useState } from 'react';
import type { PitchReportView } from '../../../app/shell/contract/intonation-view.ts';
import type { Chord } from '../../../core/pitch/chords.ts';
import type { KeptPlan } from '../../../core/session/kept-plan.ts';
import type { Session } from '../../../core/session/schema.ts';
import { takeInHand, useBench } from '../../desk/bench-store.ts';
import { theBridge } from '../../desk/desk-store.ts';
import { barsOf } from '../../lanes/bar-map.ts';
import { useLaneOverlay } from '../../lanes/lane-overlay.ts';
import type { Stretch } from '../../lanes/lane-scene.ts';
import { type NoteInHand, useIntonation } from './intonation-store.ts';
import { isOut } from './intonation-words.ts';
import { movedStretches, shiftSince } from './mend-edits.ts';
import { type PitchCurve, readCurve } from './pitch-curve.ts';
import { type OverlayContent, type OverlayVoice, pitchOverlay } from './pitch-overlay.ts';

let reports = 0;
const stamps = new WeakMap<PitchReportView, number>();

/** Tells one report from the next, so that no curve of an older one is shown. */
function stampOf(report: PitchReportView): number {
  const known = stamps.get(report) ?? ++reports;
  stamps.set(report, known);
  return known;
}

/** Curves, and the report that they are of. */
interface Curves {
  readonly of: PitchReportView | null;
  readonly byVoice: ReadonlyMap<string, PitchCurve>;
}

/** The pitch curves of a report's voices; those of the one before until they have come. */
function useCurves(report: PitchReportView | null): Curves {
  const [curves, setCurves] = useState<Curves>({ of: null, byVoice: new Map() });
  useEffect(() => {
    if (report === null) return undefined;
    const stop = new AbortController();
    const stamp = stampOf(report);
    const fetchAll = async (): Promise<void> => {
      const byVoice = new Map<string, PitchCurve>();
      for (const { id, notesHeard } of report.voices) {
        if (notesHeard === 0) continue;
        const answer = await fetch(theBridge().mediaUrl(`pitch/${encodeURIComponent(id)}?of=${stamp}`), stop);
        const curve = answer.ok ? readCurve(await answer.arrayBuffer()) : null;
        if (curve !== null) byVoice.set(id, curve);
      }
      if (!stop.signal.aborted) setCurves({ of: report, byVoice });
    };
    // Without curves the notes are drawn all the same.
    fetchAll().catch(() => undefined);
    return () => stop.abort();
  }, [report]);
  return curves;
}

/** Lays the report over the lanes for as long as the bench is there. */
export function usePitchOverlay(report: PitchReportView | null, session: Session): void {
  const plan = session.guide?.plan ?? null;
  const curves = useCurves(report);
  const note = useIntonation((state) => state.note);
  const chordAt = useIntonation((state) => state.chord);
  const overlay = useMemo(() => {
    const intonation = report?.intonation ?? null;
    if (report === null || intonation === null) return null;
    const voices = new Map<string, OverlayVoice>(
      intonation.voices.map(({ id, notes }) => {
        const voice = session.voices.find((one) => one.id === id);
        const since = (one: PitchReportView | null) =>
          voice === undefined || one === null ? null : shiftSince(session, voice, one);
        const curve = curves.byVoice.get(id) ?? null;
        const moved = voice === undefined ? [] : movedStretches(session, voice);
        return [id, { notes, curve, shiftCents: since(report), curveShiftCents: since(curves.of), moved }];
      }),
    );
    const chord = intonation.worstChords[chordAt];
    const content: OverlayContent = {
      voices,
      note,
      chord:
        chord === undefined || !isOut(chord)
          ? null
          : { chord, bar: barOfChord(plan, chord), words: chordAt === 0 ? 'worst chord' : 'chord out of tune' },
      onPick: pickNote,
    };
    return pitchOverlay(content);
  }, [report, curves, note, chordAt, plan, session]);
  useEffect(() => useLaneOverlay.setState({ overlay }), [overlay]);
  useEffect(() => () => useLaneOverlay.setState({ overlay: null }), []);
}

/** Takes a note to hand; its voice and take are in hand then too. */
export function pickNote(note: NoteInHand): void {
  if (useBench.getState().voiceId !== note.voiceId) takeInHand(note.voiceId, null);
  useIntonation.setState({ note });
}

/** The bar that a chord lies in; without bars the chord itself. */
export function barOfChord(plan: KeptPlan | null, chord: Pick<Chord, 'fromSec' | 'toSec'>): Stretch {
  const bars = barsOf(plan);
  const at = bars.findLastIndex((bar) => bar.sec <= chord.fromSec + 0.02);
  const bar = bars[at];
  if (bar === undefined) return { fromSec: chord.fromSec, toSec: chord.toSec };
  return { fromSec: bar.sec, toSec: bars[at + 1]?.sec ?? Math.max(bar.sec + 0.1, chord.toSec) };
}
