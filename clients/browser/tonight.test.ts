// Tonight, at the desk and on the phones: places for what is next in one touch, the order changed by dragging and by keys,
// who plays what before the first places, the review's proposal taken over, when somebody is needed, and that the call is
// over. Judged by axe-core and a ruler, in light and dark, German too, down to 320 px.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { ItemView, OrderItem, State } from '../core/wire';
import { openHouse, type House } from './support/house';
import { complaints, runsOut, shoot } from './support/judge';
import { openPage, type Look } from './support/opened';
import { hold, room, row, setUp, state, type Line } from './support/pretend';

let house: House;

beforeAll(async () => {
  house = await openHouse();
});
afterAll(() => house.close());

const planned = { weapons: null, from: null, to: null, percent: 50, count_in: 4 };
const [salt] = room.fights;
const fights = [
  salt!,
  { ...salt!, fight: 'The Lantern Bridge', fighters: ['MARET', 'TILDA'], sets: [] },
  { ...salt!, fight: 'Three in the Cellar', fighters: ['OSK', 'TILDA'], sets: [] },
];
const items: ItemView[] = [
  item(1, 'The Lantern Bridge', 'done', [3, 6], 240),
  item(2, 'The Salt Stair', 'to-do', [3], null),
  item(3, 'Three in the Cellar', 'to-do', [4, 6], 360),
  { ...item(4, 'The Salt Stair', 'to-do', [3], 300), planned: { ...planned, fight: 'The Salt Stair', percent: null } },
];
const roster = [...room.roster, row(6, 'Jun Harrow', 'performer', 'TILDA'), row(7, 'Pia Sund', 'performer', null)];
const evening: Partial<typeof room> = {
  fights,
  roster,
  attendance: [{ person: 'Teo Brandt', present: false }],
  tonight: { version: 5, items: [items[0]!, { ...items[1]!, open: ['OSK'] }, items[2]!, items[3]!] },
  casts: [
    {
      fight: 'The Salt Stair',
      parts: [
        {
          part: 'MARET',
          stands_by: false,
          member: 3,
          person: 'Ana Lindqvist-Okafor',
          chosen: false,
          usually: null,
          covers: ['Pia Sund'],
        },
        {
          part: 'OSK',
          stands_by: false,
          member: null,
          person: null,
          chosen: false,
          usually: 'Teo Brandt',
          covers: ['Pia Sund', 'Jun Harrow'],
        },
      ],
    },
    {
      fight: 'Three in the Cellar',
      parts: [
        {
          part: 'OSK',
          stands_by: false,
          member: null,
          person: null,
          chosen: false,
          usually: 'Teo Brandt',
          covers: ['Pia Sund', 'Jun Harrow'],
        },
        {
          part: 'TILDA',
          stands_by: false,
          member: 6,
          person: 'Jun Harrow',
          chosen: true,
          usually: 'Ana Lindqvist-Okafor',
          covers: [],
        },
      ],
    },
  ],
};

function item(
  number: number,
  fight: string,
  stands: ItemView['stands'],
  players: number[],
  about_s: number | null,
): ItemView {
  return { item: number, planned: { ...planned, fight }, stands, cannot: null, players, open: [], about_s };
}

const open = (path: 'phone' | 'desk', member: number, now: State, look: Look = {}) =>
  openPage(house, path, member, now, look);

async function judged(page: Page, name: string): Promise<void> {
  await shoot(page, name, true);
  expect(await complaints(page)).toEqual([]);
  expect(await runsOut(page)).toEqual([]);
  const small = await page.evaluate(() => {
    const letters = [
      ...document.querySelectorAll<HTMLElement>('.tonight :not(kbd), .next-tonight :not(kbd), .casts *'),
    ];
    const told = letters.filter((each) =>
      [...each.childNodes].some((node) => node.nodeType === 3 && node.nodeValue?.trim() !== ''),
    );
    return told
      .filter(
        (each) =>
          each.checkVisibility() &&
          each.closest('.unseen') === null &&
          Number.parseFloat(getComputedStyle(each).fontSize) < 15,
      )
      .map((each) => each.outerHTML.slice(0, 80));
  });
  expect(small).toEqual([]);
}

const of = <Kind extends string>(line: Line, kind: Kind) =>
  line.heard.filter(
    (message): message is Extract<(typeof line.heard)[number], { kind: Kind }> => message.kind === kind,
  );
const numbers = (order: OrderItem[] | undefined) => order?.map(({ item: number }) => number);
const orders = (line: Line) => of(line, 'order').map((message) => numbers(message.items));

it.each([
  { dark: false, german: false },
  { dark: true, german: true },
])('the desk goes to the next in one touch or one key, and changes the order (%o)', async (how) => {
  const { page, line, close } = await open('desk', 1, state, { width: 1280, height: 800, room: evening, ...how });
  try {
    const next = page.locator('.next-tonight button.main');
    await next.waitFor();
    await shoot(page, `tonight-desk-first-${how.german ? 'de-dark' : 'en-light'}`);
    await page.locator('.who-plays summary').click();
    await page.locator('.casts h3').first().waitFor();
    await page.locator('.whole-order > summary').click();
    await page.locator('.ordering .grip').first().waitFor();
    await judged(page, `tonight-desk-${how.german ? 'de-dark' : 'en-light'}`);
    await next.click();
    await page.keyboard.press('t');
    const seen = state.last_event;
    const places = { kind: 'places-for', item: 2, seen };
    await expect.poll(() => of(line, 'places-for')).toEqual([places, places]);
    expect(of(line, 'start')).toEqual([]);
    // With the arrow keys on its handle; the handle keeps them where its row stands then.
    const grips = page.locator('.ordering .grip');
    await grips.nth(3).focus();
    await page.keyboard.press('ArrowUp');
    await expect.poll(() => orders(line)).toEqual([[1, 2, 4, 3]]);
    const changed = [items[0]!, items[1]!, items[3]!, items[2]!];
    line.say({ kind: 'subject', tells: { subject: 'tonight', version: 6, items: changed } });
    await expect.poll(() => page.locator('.ordering li').nth(2).getAttribute('data-item')).toBe('4');
    expect(await page.evaluate(() => document.activeElement?.closest('li')?.dataset['item'])).toBe('4');
    // By dragging: the last to the second place.
    await grips.nth(3).dragTo(page.locator('.ordering li').nth(1));
    await expect.poll(() => orders(line).at(-1)).toEqual([1, 3, 2, 4]);
    expect(of(line, 'order').at(-1)?.seen).toBe(6);
    // Another speed, other phrases, out of it, and to be done again.
    const second = page.locator('.ordering li').nth(1);
    await second.locator('summary').click();
    await second.locator('input[type=number]').fill('65');
    await second.locator('input[type=number]').press('Enter');
    await expect.poll(() => of(line, 'order').at(-1)?.items[1]?.planned.percent).toBe(65);
    await second.locator('select').first().selectOption('1');
    await expect.poll(() => of(line, 'order').at(-1)?.items[1]?.planned.from).toBe('The wound');
    await judged(page, `tonight-desk-change-${how.german ? 'de-dark' : 'en-light'}`);
    await second.locator('.powers button').last().click();
    await expect.poll(() => orders(line).at(-1)).toEqual([1, 4, 3]);
    const first = page.locator('.ordering li').first();
    await first.locator('summary').click();
    await first.locator('.powers button').nth(2).click();
    await expect.poll(() => of(line, 'order').at(-1)?.items[0]?.done).toBe(false);
  } finally {
    await close();
  }
});

it('what is chosen is added, and the review’s proposal taken over in one touch; what is done stays', async () => {
  const { page, line, close } = await open('desk', 1, state, { width: 1280, height: 800, room: evening });
  try {
    const proposed = {
      fight: 'The Lantern Bridge',
      first: 'The wound',
      last: 'The wound',
      percent: 65,
      minutes: 5,
      with: [],
      why: 'It broke.',
    };
    await page.route('**/api/review/order', (route) =>
      route.fulfill({ json: { rule: 'Points.', rows: [proposed], minutes: 5 } }),
    );
    await page.locator('.whole-order > summary').click();
    const acts = page.locator('.ordering > .powers button');
    await acts.first().click();
    await expect.poll(() => numbers(of(line, 'order').at(-1)?.items)).toEqual([1, 2, 3, 4, null]);
    expect(of(line, 'order').at(-1)?.items.at(-1)?.planned).toMatchObject({
      fight: 'The Salt Stair',
      from: null,
      percent: 50,
    });
    await acts.nth(1).click();
    await expect.poll(() => numbers(of(line, 'order').at(-1)?.items)).toEqual([1, null]);
    const last = of(line, 'order').at(-1)?.items.at(-1);
    expect(last?.planned).toEqual({
      fight: 'The Lantern Bridge',
      weapons: null,
      from: 'The wound',
      to: 'The wound',
      percent: 65,
      count_in: null,
    });
    await expect.poll(() => page.locator('.ordering [role=status]').textContent()).toContain('1');
    // A review that does not answer leaves the order as it is, and says so.
    await page.unroute('**/api/review/order');
    await page.route('**/api/review/order', (route) => route.abort());
    const before = of(line, 'order').length;
    await acts.nth(1).click();
    await expect.poll(() => page.locator('.ordering [role=status]').textContent()).toContain('does not answer');
    expect(of(line, 'order').length).toBe(before);
  } finally {
    await close();
  }
});

it('a cover is put on in every fight in one touch, and anybody in one fight', async () => {
  const { page, line, close } = await open('desk', 1, state, { width: 1280, height: 800, room: evening });
  try {
    await page.locator('.who-plays summary').click();
    const covers = page.locator('.casts > .checklist button');
    await covers.first().waitFor();
    // Jun plays in the Cellar already, so covers in the Stair alone.
    expect(await covers.allTextContents()).toEqual(['Pia Sund plays Osk in 2 fights', 'Jun Harrow plays Osk']);
    await covers.first().click();
    const cast = (fight: string, part: string, member: number | null) => ({ kind: 'cast', fight, part, member });
    await expect
      .poll(() => of(line, 'cast'))
      .toEqual([cast('The Salt Stair', 'OSK', 7), cast('Three in the Cellar', 'OSK', 7)]);
    await page.getByLabel('Tilda in Three in the Cellar').selectOption('');
    await expect.poll(() => of(line, 'cast').at(-1)).toEqual(cast('Three in the Cellar', 'TILDA', null));
    expect(await page.getByLabel('Osk in The Salt Stair').locator('option[value="4"]').isDisabled()).toBe(true);
  } finally {
    await close();
  }
});

it('while a run goes the order stands beside it and nothing of it can be changed', async () => {
  const now = items.map((each) => (each.item === 2 ? { ...each, stands: 'now' as const } : each));
  const running: State = { ...state, ...setUp, stage: 'running' };
  const more = { width: 1280, height: 800, room: { ...evening, tonight: { version: 6, items: now } } };
  const { page, close } = await open('desk', 1, running, more);
  try {
    const order = page.locator('.whole-order > summary');
    await order.waitFor();
    expect(await order.textContent()).toContain('2 of 4 now');
    await order.click();
    await page.locator('.tonight.beside li[data-stands=now]').waitFor();
    expect(await page.locator('.tonight button').count()).toBe(0);
    expect(await page.locator('.casts').count()).toBe(0);
    await shoot(page, 'tonight-desk-running');
    expect(await runsOut(page)).toEqual([]);
  } finally {
    await close();
  }
});

it.each([
  { dark: false, german: false, width: 390 },
  { dark: true, german: true, width: 320 },
])('a phone says when its person is needed, and that the call is over (%o)', async (how) => {
  const { page, line, close } = await open('phone', 4, state, { ...how, height: 740, room: evening });
  const german = how.german;
  try {
    const said = page.locator('.tonight .lead');
    await said.waitFor();
    // The first is done, the second is next, and Teo is in the third.
    await expect
      .poll(() => said.textContent())
      .toContain(german ? 'Übernächstes dran: Three in the Cellar' : 'next but one: Three in the Cellar');
    expect(await said.textContent()).toContain(german ? '1 von 4 getan' : '1 of 4 done');
    expect(await said.textContent()).toContain(german ? 'weiß noch niemand' : 'Nobody knows yet');
    await judged(page, `tonight-phone-${german ? 'de-dark' : 'en-light'}`);
    const now = items.map((each) => (each.item === 2 ? { ...each, stands: 'now' as const } : each));
    line.say({ kind: 'subject', tells: { subject: 'tonight', version: 6, items: now } });
    await expect.poll(() => said.textContent()).toContain(german ? 'als Nächstes dran' : 'needed next:');
    expect(await said.textContent()).toContain(german ? 'jetzt 2 von 4' : '2 of 4 now');
    await page.locator('.tonight summary').click();
    expect(await page.locator('.tonight li b').count()).toBe(1);
    await judged(page, `tonight-phone-open-${german ? 'de-dark' : 'en-light'}`);
    line.say({ kind: 'state', ...state, generation: 5, over: true });
    await page.getByText(german ? 'Die Kampfprobe ist zu Ende.' : 'The call is over.').waitFor();
    expect(await page.locator('.tonight').count()).toBe(0);
    await judged(page, `tonight-phone-over-${german ? 'de-dark' : 'en-light'}`);
    // A hold goes before all of it.
    line.say({
      kind: 'state',
      ...state,
      ...setUp,
      stage: 'held',
      generation: 6,
      hold: { ...hold, generation: 6 },
      spot: hold.spot,
    });
    await page.locator('body[data-stage=held]').waitFor();
    expect(await page.locator('.tonight').count()).toBe(0);
  } finally {
    await close();
  }
});
