// What ends a call at the desk: its form opens in sight, above HOLD's bar, however small the screen is.
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openHouse, type House } from './support/house';
import { memberOf, pretend, state } from './support/pretend';

let house: House;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());

it.each([
  { width: 1280, height: 600 },
  { width: 1280, height: 720 },
  { width: 390, height: 844 },
])('the form is in sight (%o)', async (viewport) => {
  const context = await house.browser.newContext({ viewport });
  try {
    const page = await context.newPage();
    await pretend(page, memberOf(1), state, null);
    await page.goto(`${house.home}desk.html`);
    // From a keyboard: what it opens is not where the eye is already.
    await page.getByRole('button', { name: 'End the call …' }).press('Enter');
    const end = page.getByRole('button', { name: 'End the call for everybody' });
    await end.waitFor();
    const covered = () =>
      end.evaluate((button) => {
        const { left, top, width, height } = button.getBoundingClientRect();
        const at = [top + 2, top + height - 2].map((y) => document.elementFromPoint(left + width / 2, y));
        return at.filter((element) => !button.contains(element)).map((element) => element?.outerHTML.slice(0, 80));
      });
    await expect.poll(covered).toEqual([]);
  } finally {
    await context.close();
  }
});
