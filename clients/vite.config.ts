// How the pages are built (several small pages, no inline script or style, so that the server's content policy can
// forbid both) and how their tests are found: `core` without a browser, `browser` with one and the real server.
import { defineConfig } from 'vitest/config';

export default defineConfig({
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rolldownOptions: { input: ['index.html', 'join.html', 'phone.html', 'desk.html'] },
  },
  test: {
    projects: [
      { extends: true, test: { name: 'core', include: ['test/**/*.test.ts'] } },
      { extends: true, test: { name: 'browser', include: ['browser/**/*.test.ts'], testTimeout: 60_000 } },
    ],
  },
});
