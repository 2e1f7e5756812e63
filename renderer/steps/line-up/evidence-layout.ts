import type { Placement, Witness } from '../../../core/session/schema.ts';
import { apartSec } from './placement-words.ts';

/** A witness as it is drawn: its difference from the placement and its reach, ms; `beyond` says that it lies off the picture. */
export interface DrawnWitness {
  readonly witness: Witness;
  readonly apartMs: number;
  readonly reachMs: number;
  readonly beyond: -1 | 0 | 1;
}

/** What a picture of the evidence spans around the placement, ms to each side, and what it shows. */
export interface EvidenceLayout {
  readonly halfMs: number;
  readonly drawn: readonly DrawnWitness[];
}

/** Halves of the axis to choose from, ms. */
const HALVES = [1, 2, 5, 10, 20, 50, 100, 200, 500];

/**
 * Lays out the evidence against the placement. The axis fits what was accepted with its reach, and what was set aside as
 * long as that is not ten times further; the rest is drawn at the edge.
 */
export function layEvidence(placement: Placement): EvidenceLayout {
  const drawn = placement.evidence.map((witness) => ({
    witness,
    apartMs: apartSec(witness, placement) * 1000,
    reachMs: witness.uncertaintySec * 1000,
  }));
  const needs = (wanted: boolean): number =>
    Math.max(
      0,
      ...drawn.filter((one) => one.witness.accepted === wanted).map((one) => Math.abs(one.apartMs) + one.reachMs),
    );
  const accepted = Math.max(needs(true), placement.uncertaintySec < 10 ? placement.uncertaintySec * 1000 : 0);
  const aside = needs(false);
  const wanted = accepted === 0 || aside < 10 * accepted ? Math.max(accepted, aside) : accepted;
  const halfMs = HALVES.find((half) => half >= wanted * 1.05) ?? HALVES.at(-1)!;
  return {
    halfMs,
    drawn: drawn.map((one) => ({
      ...one,
      beyond: one.apartMs > halfMs ? 1 : one.apartMs < -halfMs ? -1 : 0,
    })),
  };
}
