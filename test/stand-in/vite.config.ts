import type { IncomingMessage, ServerResponse } from 'node:http';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';
import { standInMedia } from './stand-in-media.ts';

/** Answers media routes of the invented session, with byte ranges; everything else goes on to the next. */
function serveMedia(request: IncomingMessage, response: ServerResponse, next: () => void): void {
  const url = new URL(request.url ?? '/', 'http://stand-in');
  const bytes = url.pathname.startsWith('/media/') ? standInMedia(url) : undefined;
  if (bytes === undefined) {
    next();
    return;
  }
  const range = /^bytes=(\d+)-(\d*)$/.exec(request.headers.range ?? '');
  if (range === null) {
    response.end(bytes);
    return;
  }
  const from = Number(range[1]);
  const to = range[2] === '' ? bytes.length - 1 : Math.min(bytes.length - 1, Number(range[2]));
  response.writeHead(206, { 'content-range': `bytes ${from}-${to}/${bytes.length}` });
  response.end(bytes.subarray(from, to + 1));
}

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
  server: {
    host: '127.0.0.1',
    headers: { 'cross-origin-opener-policy': 'same-origin', 'cross-origin-embedder-policy': 'require-corp' },
  },
});
