// How the pages are built: several small pages, no inline script or style, so that the server's content policy can
// forbid both. Only what stands under `dependencies` is there when the server's build runs this.
import { defineConfig } from 'vite';

export default defineConfig({
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rolldownOptions: {
      input: ['index.html', 'join.html', 'phone.html', 'desk.html', 'score.html', 'sound.html', 'review.html'],
    },
  },
});
