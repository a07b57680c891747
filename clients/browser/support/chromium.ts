// The browser that pages are looked at with: the machine's own Chromium, without anything that calls home.
import { chromium, type Browser } from 'playwright-core';

/** Starts it. `CHROMIUM` names another binary than Debian's. */
export function startChromium(): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env['CHROMIUM'] ?? '/usr/bin/chromium',
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
