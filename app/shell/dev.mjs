// For whoever works on the page: it is served as it is written, and renewed as it changes, before a real desk. `npm run dev
// -- SESSION` opens one. Programs behind it are built once, at the start.
import { spawn } from 'node:child_process';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import react from '@vitejs/plugin-react';
import { createServer } from 'vite';
import { makeFresh, root } from './build.mjs';

if (!makeFresh()) process.exit(1);
const desk = spawn(process.execPath, [join(root, 'out/start.js'), '--browser', '--no-open', ...process.argv.slice(2)], {
  stdio: ['ignore', 'pipe', 'inherit'],
});
desk.on('exit', (code) => process.exit(code ?? 1));
for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => desk.kill(signal));

const url = await new Promise((resolve) => {
  createInterface({ input: desk.stdout }).on('line', (line) => {
    const found = /http:\/\/127\.0\.0\.1:\d+\/#\S+/.exec(line);
    if (found === null) console.log(line);
    else resolve(new URL(found[0]));
  });
});

/** To the door, as if its own page had asked. */
const toDoor = {
  target: url.origin,
  changeOrigin: true,
  configure: (proxy) => {
    proxy.on('proxyReq', (request) => {
      if (request.getHeader('origin') !== undefined) request.setHeader('origin', url.origin);
    });
  },
};
const server = await createServer({
  configFile: false,
  root: join(root, 'renderer'),
  plugins: [react()],
  worker: { format: 'es' },
  server: {
    host: '127.0.0.1',
    headers: { 'cross-origin-opener-policy': 'same-origin', 'cross-origin-embedder-policy': 'require-corp' },
    proxy: Object.fromEntries(['/call', '/enter', '/events', '/media/', '/clips'].map((path) => [path, toDoor])),
  },
});
await server.listen();
console.log(`The page as it is written: ${server.resolvedUrls.local[0]}${url.hash}`);
