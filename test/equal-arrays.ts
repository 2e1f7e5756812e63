import { expect } from 'vitest';

/**
 * Typed arrays of one type are equal where their bytes are; all else is told as ever. Looking at each of 200 000 samples as at a property of
 * its own took `toEqual` a second.
 */
function haveEqualBytes(one: unknown, other: unknown): true | undefined {
  if (!ArrayBuffer.isView(one) || !ArrayBuffer.isView(other)) return undefined;
  if (Object.getPrototypeOf(one) !== Object.getPrototypeOf(other)) return undefined;
  return bytesOf(one).equals(bytesOf(other)) || undefined;
}

function bytesOf({ buffer, byteOffset, byteLength }: ArrayBufferView): Buffer {
  return Buffer.from(buffer, byteOffset, byteLength);
}

expect.addEqualityTesters([haveEqualBytes]);
