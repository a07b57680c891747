// The built pages, served with the server's own content policy, and a browser in front of them.
import { readFileSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { preview, type PreviewServer } from 'vite';
import { startChromium } from './chromium';

/** Pages and browser. */
export interface House {
  /** The address of the front page. */
  home: string;
  browser: Browser;
  close(): Promise<void>;
}

/** Opens the house on a free port of this machine. The pages must have been built. */
export async function openHouse(): Promise<House> {
  const headers = { 'content-security-policy': contentPolicy() };
  const server: PreviewServer = await preview({ preview: { host: '127.0.0.1', port: 0, headers } });
  const browser = await startChromium();
  return {
    home: server.resolvedUrls?.local[0] ?? '',
    browser,
    close: async () => {
      await browser.close();
      await server.close();
    },
  };
}

// The server's own words, so that the pages are looked at under the policy that they will live under.
function contentPolicy(): string {
  const source = readFileSync(new URL('../../../src/server/pages.rs', import.meta.url), 'utf8');
  const found = /CONTENT_POLICY: &str = "([^"]+)"/.exec(source)?.[1];
  if (found === undefined) throw new Error('src/server/pages.rs has no CONTENT_POLICY');
  return found.replace(/\\\s+/g, '');
}
