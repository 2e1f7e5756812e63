import { assertInRange } from '../signal/fault.ts';
import type { BlendRole } from './blend.ts';

/** Linear gains of the two sides. */
export interface SideGains {
  readonly left: number;
  readonly right: number;
}

/**
 * Equal-power place on the stage: left = cos(p pi / 2), right = sin(p pi / 2), with p from 0 at -90 degrees (left) to 1 at
 * 90 degrees (right). left^2 + right^2 = 1; in the middle both are 0.7071 (-3.01 dB), so that a mono take reads the same
 * loudness before and after. Source: the constant-power law, e.g. Zolzer (ed.), DAFX, 2nd ed. 2011, section 5.2.
 */
export function placeGains(placeDeg: number): SideGains {
  assertInRange('placeDeg', placeDeg, -90, 90);
  // The ends exactly: cos(pi / 2) is 6e-17 in double, which would leave a whisper on the far side.
  if (placeDeg === -90) return { left: 1, right: 0 };
  if (placeDeg === 90) return { left: 0, right: 1 };
  const angle = ((placeDeg + 90) / 180) * (Math.PI / 2);
  return { left: Math.cos(angle), right: Math.sin(angle) };
}

/** How far from the middle leads and basses stand at most, and how far the others do. Our own choice. */
const CENTRE_DEG = 10;
const INNER_NEAR_DEG = 15;
const INNER_FAR_DEG = 45;

/**
 * Where voices stand when nobody said so, degrees, in the order given (that of the score, from the top). Our own choice,
 * after the custom that what carries the piece stays near the middle: leads and basses within 10 degrees of it (a single
 * one a little left, a single bass a little right; alone on the stage, in the middle), the others spread from left to
 * right in score order, 15 to 45 degrees out on both sides, as even on both as their number allows.
 */
export function spreadPlaces(roles: readonly BlendRole[]): number[] {
  if (roles.length === 1) return [0];
  const leads = roles.filter((role) => role === 'lead').length;
  const basses = roles.filter((role) => role === 'bass').length;
  const others = roles.length - leads - basses;
  const leadPlaces = nearMiddle(leads, leads === 1 && basses + others > 1 ? -CENTRE_DEG / 2 : 0);
  const bassPlaces = nearMiddle(basses, basses === 1 && leads > 0 ? CENTRE_DEG / 2 : 0);
  const otherPlaces = onBothSides(others);
  let lead = 0;
  let bass = 0;
  let other = 0;
  return roles.map((role) => {
    if (role === 'lead') return leadPlaces[lead++]!;
    if (role === 'bass') return bassPlaces[bass++]!;
    return otherPlaces[other++]!;
  });
}

function nearMiddle(count: number, single: number): number[] {
  if (count === 1) return [single];
  return Array.from({ length: count }, (_, index) => CENTRE_DEG * ((2 * index) / (count - 1) - 1));
}

function onBothSides(count: number): number[] {
  if (count === 1) return [2 * CENTRE_DEG];
  const left = Math.ceil(count / 2);
  const right = count - left;
  const side = (many: number): number[] =>
    many === 1
      ? [(INNER_NEAR_DEG + INNER_FAR_DEG) / 2]
      : Array.from(
          { length: many },
          (_, index) => INNER_NEAR_DEG + ((INNER_FAR_DEG - INNER_NEAR_DEG) * index) / (many - 1),
        );
  return [
    ...side(left)
      .reverse()
      .map((degrees) => -degrees),
    ...side(right),
  ];
}
