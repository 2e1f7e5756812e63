import { deflateSync } from 'node:zlib';

const SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);

/**
 * A PNG file of 8-bit red, green, blue and opacity. Source: W3C PNG (second edition): chunks, colour type 6, no filter.
 */
export function encodePng(image: { widthPx: number; heightPx: number; data: Uint8Array }): Buffer {
  const { widthPx, heightPx, data } = image;
  const header = Buffer.alloc(13);
  header.writeUInt32BE(widthPx, 0);
  header.writeUInt32BE(heightPx, 4);
  header.set([8, 6, 0, 0, 0], 8);
  const rowBytes = widthPx * 4;
  const rows = Buffer.alloc((rowBytes + 1) * heightPx);
  for (let y = 0; y < heightPx; y++) rows.set(data.subarray(y * rowBytes, (y + 1) * rowBytes), y * (rowBytes + 1) + 1);
  return Buffer.concat([
    SIGNATURE,
    chunk('IHDR', header),
    chunk('IDAT', deflateSync(rows, { level: 6 })),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

function chunk(type: string, body: Buffer): Buffer {
  const typed = Buffer.concat([Buffer.from(type, 'latin1'), body]);
  const framed = Buffer.alloc(8);
  framed.writeUInt32BE(body.length, 0);
  framed.writeUInt32BE(crc32(typed), 4);
  return Buffer.concat([framed.subarray(0, 4), typed, framed.subarray(4)]);
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, index) => {
  let value = index;
  for (let bit = 0; bit < 8; bit++) value = value & 1 ? 0xedb88320 ^ (value >>> 1) : value >>> 1;
  return value >>> 0;
});

/** CRC-32 as PNG wants it (its annex D); the one of node:zlib is not in every Node 20. */
function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of bytes) crc = CRC_TABLE[(crc ^ byte) & 0xff]! ^ (crc >>> 8);
  return (crc ^ 0xffffffff) >>> 0;
}
