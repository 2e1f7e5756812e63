/** Bytes of a base64 text (RFC 4648, section 4) without line breaks. Core knows neither Buffer nor atob. */
export function decodeBase64(text: string): Uint8Array {
  const padding = text.endsWith('==') ? 2 : text.endsWith('=') ? 1 : 0;
  const bytes = new Uint8Array((text.length / 4) * 3 - padding);
  let held = 0;
  let heldBits = 0;
  let at = 0;
  for (let n = 0; n < text.length - padding; n++) {
    held = ((held << 6) | sextet(text.charCodeAt(n))) & 0xffff;
    heldBits += 6;
    if (heldBits >= 8) {
      heldBits -= 8;
      bytes[at++] = held >> heldBits;
    }
  }
  return bytes;
}

function sextet(code: number): number {
  if (code >= 97) return code - 71;
  if (code >= 65) return code - 65;
  if (code >= 48) return code + 4;
  return code === 43 ? 62 : 63;
}
