/** A file's bytes, read anywhere. `app` gives one over an open file, tests give one over an array. */
export interface ByteSource {
  readonly lengthBytes: number;
  /** The bytes from `fromByte` on, `lengthBytes` of them or as many as the file has. */
  read(fromByte: number, lengthBytes: number): Uint8Array;
}

/** A ByteSource over bytes in memory. `lengthBytes` may say that the file goes on past them: then they are its head. */
export function byteSourceOf(bytes: Uint8Array, lengthBytes: number = bytes.length): ByteSource {
  return {
    lengthBytes,
    read: (fromByte, count) => bytes.subarray(fromByte, fromByte + count),
  };
}
