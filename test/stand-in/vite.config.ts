import type { IncomingMessage, ServerResponse } from 'node:http';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';
import { standInClip } from './stand-in-clips.ts';
import { standInMedia, standInSound } from './stand-in-media.ts';

/** Answers media routes of the invented session, with byte ranges; everything else goes on to the next. */
async function serveMedia(request: IncomingMessage, response: ServerResponse, next: () => void): Promise<void> {
  const url = new URL(request.url ?? '/', 'http://stand-in');
  const range = /^bytes=(\d+)-(\d*)$/.exec(request.headers.range ?? '');
  const from = Number(range?.[1] ?? 0);
  const asked = range === null || range[2] === '' ? null : Number(range[2]);
  const isMedia = url.pathname.startsWith('/media/');
  const sound = isMedia ? standInSound(url, from, asked) : undefined;
  const clip = isMedia ? await standInClip(url) : undefined;
  const bytes = isMedia && sound === undefined ? (clip ?? standInMedia(url)) : undefined;
  const all = sound?.all ?? bytes?.length;
  if (all === undefined) {
    next();
    return;
  }
  const to = Math.min(all - 1, asked ?? all - 1);
  if (clip !== undefined) response.setHeader('content-type', 'video/mp4');
  if (clip !== undefined) response.setHeader('accept-ranges', 'bytes');
  if (range !== null) response.writeHead(206, { 'content-range': `bytes ${from}-${to}/${all}` });
  response.end(sound?.bytes ?? bytes?.subarray(from, to + 1));
}

const headers = { 'cross-origin-opener-policy': 'same-origin', 'cross-origin-embedder-policy': 'require-corp' };

/** The screen over an invented session, without a desk: `npx vite -c test/stand-in/vite.config.ts`. */
export default defineConfig({
  root: import.meta.dirname,
  plugins: [
    react(),
    {
      name: 'stand-in-media',
      configureServer(server) {
        server.middlewares.use(serveMedia);
      },
      configurePreviewServer(server) {
        server.middlewares.use(serveMedia);
      },
    },
  ],
  server: { host: '127.0.0.1', headers },
  preview: { headers },
});
