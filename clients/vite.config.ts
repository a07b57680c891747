// How the pages are built: several small pages, no inline script or style, so that the server's content policy can
// forbid both. Beside every file its compressed forms are laid, so that the server carries them ready-made. Only what
// stands under `dependencies` is there when the server's build runs this.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';
import { defineConfig, type Plugin } from 'vite';
import { home } from './home.config';

// Below this a file fits a packet with its head, and a compressed form would save nothing.
const WORTH_IT = 512;

/** Files of what somebody opens. */
const OPENED = /\/(plan|planned|stage|replay|invitations|keys-panel|near-misses|how-it-feels)[^/]*\.js$/;

// Lays `name.br` and `name.gz` beside every file that is worth it and smaller so.
const compressed = (): Plugin => ({
  name: 'compressed',
  apply: 'build',
  writeBundle({ dir }) {
    const names = readdirSync(dir ?? 'dist', { recursive: true, encoding: 'utf8' });
    for (const name of names.filter((each) => /\.(html|js|css|svg)$/.test(each))) {
      const file = join(dir ?? 'dist', name);
      const bytes = readFileSync(file);
      if (bytes.length < WORTH_IT) continue;
      const br = brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length } });
      const gz = gzipSync(bytes, { level: 9 });
      if (br.length < bytes.length) writeFileSync(`${file}.br`, br);
      if (gz.length < bytes.length) writeFileSync(`${file}.gz`, gz);
    }
  },
});

export default defineConfig({
  plugins: [compressed(), home()],
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: {
      polyfill: false,
      // What it is made of is fetched when it is opened: the list of that would weigh on every page that can open it.
      resolveDependencies: (file, all) => (OPENED.test(file) ? all.filter((each) => each.endsWith('.css')) : all),
    },
    rolldownOptions: {
      input: ['index.html', 'join.html', 'phone.html', 'desk.html', 'score.html', 'sound.html', 'review.html'],
    },
  },
});
