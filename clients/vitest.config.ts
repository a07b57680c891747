// How the pages' tests are found: `core` without a browser, `browser` in Chromium, `firefox` in Firefox.
import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    projects: [
      // The random evenings are long, and a machine that builds meanwhile is slow.
      { test: { name: 'core', include: ['test/**/*.test.ts'], testTimeout: 60_000 } },
      // A page waits more than it works: two files at a time leave two processors idle for a third of the time.
      // Nine pages at once are much for them. What waits in vain says so by itself, after half a minute.
      {
        test: {
          name: 'browser',
          include: ['browser/**/*.test.ts'],
          testTimeout: 180_000,
          hookTimeout: 60_000,
          maxWorkers: 2,
        },
      },
      // The line to Firefox is a WebSocket, which Node 20 has behind a flag.
      {
        test: {
          name: 'firefox',
          include: ['firefox/**/*.test.ts'],
          testTimeout: 180_000,
          hookTimeout: 60_000,
          execArgv: ['--experimental-websocket'],
        },
      },
      { test: { name: 'measure', include: ['measure/**/*.measure.ts'], testTimeout: 600_000, hookTimeout: 60_000 } },
    ],
  },
});
