import react from '@vitejs/plugin-react';
import { defineConfig } from 'electron-vite';

// The builder in app/shell/build.mjs builds beside out/ and swaps.
const out = process.env['PARTSONG_OUT'] ?? 'out';

/** Builds the window's main program, its preload and the page into out/: `electron-vite build -c electron.config.ts`. */
export default defineConfig({
  main: {
    build: {
      outDir: `${out}/main`,
      rollupOptions: {
        // The worker lies beside the program, where app/work/pool.ts looks for it.
        input: { main: 'app/shell/window/main.ts', worker: 'app/work/worker.ts' },
        output: { entryFileNames: '[name].js', chunkFileNames: 'part-[hash].js' },
      },
    },
  },
  preload: {
    build: {
      outDir: `${out}/preload`,
      // A sandboxed preload is loaded as CommonJS and finds no packages.
      externalizeDeps: false,
      rollupOptions: {
        input: 'app/shell/window/preload.ts',
        output: { format: 'cjs', entryFileNames: '[name].cjs' },
      },
    },
  },
  renderer: {
    root: 'renderer',
    plugins: [react()],
    // A worklet stays a file of its own: as text within the page the page's policy would turn it away.
    worker: { format: 'es' },
    build: {
      outDir: `${out}/renderer`,
      // The page also runs in browsers other than the window's own.
      target: 'es2023',
      assetsInlineLimit: 0,
      minify: true,
      // The whole page is one piece, read from this computer: its size is no matter for a warning at the first start.
      chunkSizeWarningLimit: 2000,
      modulePreload: { polyfill: false },
      rollupOptions: { input: 'renderer/index.html' },
    },
  },
});
