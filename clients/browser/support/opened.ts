// A page in front of a pretended server: as wide, as dark and in the language that a test asks for.
import type { Browser, Page } from 'playwright-core';
import type { State } from '../../core/wire';
import { memberOf, pretend, room, run, type Line } from './pretend';

/** How a page is looked at; 320 × 640, in light and in English unless something else is said. */
export interface Look {
  width?: number;
  height?: number;
  dark?: boolean;
  german?: boolean;
  /** What is told of the room besides the usual. */
  room?: Partial<typeof room>;
}

/** A page, and what its pretended server says and hears. */
export interface Opened {
  page: Page;
  line: Line;
  close(): Promise<void>;
}

/** Opens a member's page of the built ones at `home`. */
export async function openPage(
  { home, browser }: { home: string; browser: Browser },
  path: 'phone' | 'desk',
  member: number,
  now: State,
  look: Look = {},
): Promise<Opened> {
  const context = await browser.newContext({
    viewport: { width: look.width ?? 320, height: look.height ?? 640 },
    colorScheme: look.dark === true ? 'dark' : 'light',
    locale: look.german === true ? 'de-DE' : 'en-GB',
  });
  const page = await context.newPage();
  const line = await pretend(page, memberOf(member), now, run, look.room);
  await page.goto(`${home}${path}.html`);
  return { page, line, close: () => context.close() };
}
