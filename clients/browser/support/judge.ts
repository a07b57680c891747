// What a page is judged by: axe-core, a ruler, and a picture for whoever looks.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import type { Page } from 'playwright-core';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** What axe-core finds against WCAG 2.2 A and AA, the AAA contrast that runs need, and good practice. */
export async function complaints(page: Page): Promise<string[]> {
  // What stays is judged: on a busy machine a fade may begin while it is being looked at.
  return (await complaintsNow(page)).length === 0 ? [] : complaintsNow(page);
}

async function complaintsNow(page: Page): Promise<string[]> {
  // What fades (a hold's flood, 300 ms) is judged once it has; it begins with the frame after the one that it was told in.
  await page.evaluate(async () => {
    await new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
    await Promise.all(document.getAnimations().map((each) => each.finished.catch(() => undefined)));
  });
  return page.evaluate(async (source) => {
    // The page's policy forbids foreign scripts; the test hook's evaluation is not one.
    if (!('axe' in window)) (0, eval)(source);
    const tool = (window as unknown as { axe: typeof import('axe-core') }).axe;
    const rules = { 'color-contrast-enhanced': { enabled: true } };
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
    const { violations } = await tool.run(document, { runOnly: tags, rules });
    return violations.map(
      ({ id, nodes }) =>
        `${id}: ${nodes.map(({ html, any }) => `${html} ${any.map(({ message }) => message).join(', ')}`).join(' | ')}`,
    );
  }, axe);
}

/** What runs out of its page to the right: elements that nothing lets move by themselves. */
export async function runsOut(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const edge = document.documentElement.clientWidth + 0.5;
    const moves = (element: Element | null): boolean =>
      element !== null && (/auto|scroll/.test(getComputedStyle(element).overflowX) || moves(element.parentElement));
    // A drawing shows nothing beside its frame.
    const inDrawing = (element: Element): boolean => element instanceof SVGElement && element.ownerSVGElement !== null;
    const out = [...document.querySelectorAll('body *')].filter(
      (element) => !inDrawing(element) && element.getBoundingClientRect().right > edge && !moves(element.parentElement),
    );
    return out.map((element) => element.outerHTML.slice(0, 120));
  });
}

/** Leaves a picture in the folder of HOLDFAST_SHOTS, if there is one. */
export async function shoot(page: Page, name: string, fullPage = false): Promise<void> {
  const folder = process.env['HOLDFAST_SHOTS'];
  if (folder !== undefined) await page.screenshot({ path: join(folder, `${name}.png`), fullPage });
}
