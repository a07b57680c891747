// The browser that pages are looked at with: the machine's own Chromium, without anything that calls home.
import { existsSync } from 'node:fs';
import { chromium, type Browser } from 'playwright-core';

/** The browser as it is installed for people: every page in a window of its own, drawn for nobody. */
const WHOLE = '/usr/bin/chromium';
/** The same engine without windows, menus and profiles: to open a page costs a quarter of the processor's time. */
const ENGINE = '/usr/bin/chromium-headless-shell';

/**
 * Starts the engine, or where it is not installed, or `whole` is asked for, the whole browser. `CHROMIUM` names another
 * binary than Debian's.
 */
export function startChromium({ whole = false } = {}): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env['CHROMIUM'] ?? (whole || !existsSync(ENGINE) ? WHOLE : ENGINE),
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      // Pages that a test takes from a folder (see seats.ts) are not of this machine in the browser's eyes.
      ...(process.env['HOLDFAST_PAGES'] === undefined ? [] : ['--disable-features=LocalNetworkAccessChecks']),
    ],
  });
}
