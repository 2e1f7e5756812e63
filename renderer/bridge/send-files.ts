import type { DoorAnswer } from '../../app/shell/contract/bridge.ts';
import { BridgeFault } from './bridge-fault.ts';

/**
 * Sends files to the session's folder, one after another, and gives their paths there in the same order. onProgress:
 * fraction of all bytes, never falling, 1 at the end. Rejects with a BridgeFault that names the file.
 */
export async function sendFiles(files: readonly File[], onProgress: (fraction: number) => void): Promise<string[]> {
  const allBytes = Math.max(
    1,
    files.reduce((sum, file) => sum + file.size, 0),
  );
  const paths: string[] = [];
  let sentBytes = 0;
  for (const file of files) {
    const before = sentBytes;
    paths.push(
      await sendFile(file, (bytes) => onProgress(Math.min(1, (before + Math.min(bytes, file.size)) / allBytes))),
    );
    sentBytes += file.size;
  }
  onProgress(1);
  return paths;
}

/** With XMLHttpRequest, since fetch does not tell how much has been sent. */
function sendFile(file: File, onSent: (bytes: number) => void): Promise<string> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open('PUT', `/clips?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader('content-type', 'application/octet-stream');
    request.responseType = 'json';
    request.upload.addEventListener('progress', (event) => onSent(event.loaded));
    request.addEventListener('load', () => {
      const answer = request.response as DoorAnswer | null;
      if (answer?.ok === true && typeof answer.value === 'string') resolve(answer.value);
      else reject(answer?.ok === false ? new BridgeFault({ ...answer.fault, file: file.name }) : cutOff(file));
    });
    for (const kind of ['error', 'abort', 'timeout'] as const) {
      request.addEventListener(kind, () => reject(cutOff(file)));
    }
    request.send(file);
  });
}

function cutOff(file: File): BridgeFault {
  return new BridgeFault({
    code: 'file-unreadable',
    message: `${file.name} could not be read to its end, or the desk went away.`,
    nextStep: 'Check that the file is still there, then add it again.',
    file: file.name,
  });
}
