import { isMainThread, Worker } from 'node:worker_threads';
import { findFfmpeg } from '../../../app/media/ffmpeg.ts';
import { fileArgument, startFfmpeg } from '../../../app/media/run.ts';

/*
 * A process in which FFmpeg writes ten minutes of noise into a file in their own time, and says nothing meanwhile. Arguments: the file, and
 * "worker" where a worker is to start it, which is ended by force after two seconds.
 */
const [file, where] = process.argv.slice(2);
const noise = ['-re', '-f', 'lavfi', '-i', 'anoisesrc=d=600:r=48000', '-f', 's16le', '-flush_packets', '1'];

if (isMainThread && where === 'worker') {
  const worker = new Worker(new URL(import.meta.url), { argv: [file!, where] });
  setTimeout(() => void worker.terminate(), 2000);
  setInterval(() => undefined, 1000);
} else {
  const quiet = ['-nostdin', '-nostats', '-loglevel', 'error', '-y'];
  await startFfmpeg(await findFfmpeg(), [...quiet, ...noise, fileArgument(file!)]).end;
}
