// Pictures of moves: on every phone from its own side, at the desk from nobody's, on the score page for the line one is
// on; and where they do not come, the words stand alone.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { startFromPlaces, type Seat } from './support/seats';
import { House } from './support/server';

const evening = evenings(() => House.open());

const places = ({ page }: Seat) => page.getByRole('button', { name: 'Call places', exact: true }).click();

/** What the first picture of a page says, and whose parts of it are the reader's own. */
async function first({ page }: Seat): Promise<{ title: string; own: number; others: number }> {
  const picture = page.locator('.picture').first();
  await picture.waitFor();
  return picture.evaluate((element) => ({
    title: element.querySelector('title')?.textContent ?? '',
    own: element.querySelectorAll('.you').length,
    others: element.querySelectorAll('.ink').length,
  }));
}

it('shows each phone the move from its own side, and the desk from nobody’s', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await places(desk);
  const [doer, partner, onlooker] = [await first(alder), await first(bryony), await first(desk)];
  expect(doer.title).toMatch(/thrust.*belly.*parried in 4/);
  expect([partner.title, onlooker.title]).toEqual([doer.title, doer.title]);
  // Attack and reply are told apart by whose they are: what is one's own is another's for the other.
  expect(doer.own).toBeGreaterThan(0);
  expect(partner.own).toBeGreaterThan(0);
  const colour = ({ page }: Seat, whose: string) =>
    page
      .locator(`.picture .${whose}`)
      .first()
      .evaluate((element) => getComputedStyle(element).color);
  expect(await colour(alder, 'you')).not.toBe(await colour(alder, 'ink'));
  expect(await colour(desk, 'you')).toBe(await colour(desk, 'ink'));
  const drawn = ({ page }: Seat) => page.locator('.picture svg').first().innerHTML();
  expect(await drawn(alder)).not.toBe(await drawn(bryony));
  for (const seat of [desk, alder, bryony]) {
    expect(await complaints(seat.page)).toEqual([]);
    expect(await runsOut(seat.page)).toEqual([]);
  }
});

it('stands without pictures where they do not come, and has them when they do', async () => {
  const { desk, alder } = await evening.room.company(evening.house);
  let broken = true;
  await alder.context.route('**/pictures/*', (route) => (broken ? route.abort() : route.continue()));
  const refused = alder.page.waitForEvent('requestfailed', { predicate: (it) => it.url().includes('/pictures/') });
  await places(desk);
  await refused;
  await alder.page.getByText('thrust belly').first().waitFor();
  expect(await alder.page.locator('.picture').count()).toBe(0);
  broken = false;
  await first(alder);
});

it('shows the director the move on the line they are on', async () => {
  const director = await evening.room.sit(evening.house, 'director', 'Ada');
  const text = director.page.locator('textarea').first();
  await text.waitFor();
  const goTo = (words: string) =>
    text.evaluate((area: HTMLTextAreaElement, at) => {
      area.focus();
      const place = area.value.indexOf(at);
      area.setSelectionRange(place, place);
      area.dispatchEvent(new Event('select', { bubbles: true }));
      document.dispatchEvent(new Event('selectionchange'));
    }, words);
  await goTo('cut head');
  await director.page.locator('.pictured-line', { hasText: 'BRYONY cut head / ALDER parry 5' }).waitFor();
  await director.page.locator('.pictured-line .picture svg').waitFor();
  expect(await complaints(director.page)).toEqual([]);
  await goTo('slash feet');
  await director.page.locator('.pictured-line', { hasText: 'ALDER slash feet / BRYONY jump' }).waitFor();
  await goTo('tempo 60');
  await director.page.locator('.pictured-line').waitFor({ state: 'detached' });
});

it('lets a performer read their whole part while nothing moves, and a call takes the screen', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const part = alder.page.locator('.my-part');
  await part.getByText('My part').click();
  // Nothing is set up, and both phrases are there, with the performer's own moves and replies.
  await part.getByRole('heading', { name: '2. The answer' }).waitFor();
  expect(await part.locator('.move').count()).toBe(6);
  await part.locator('.picture').nth(5).waitFor();
  expect(await complaints(alder.page)).toEqual([]);
  expect(await runsOut(alder.page)).toEqual([]);
  // Read it and it is no run: nobody else is told of anything.
  expect(
    (await evening.house.log()).map(({ kind }) => kind).filter((kind) => kind === 'start' || kind === 'places'),
  ).toEqual([]);
  await places(desk);
  await alder.page.getByRole('button', { name: 'I am ready' }).waitFor();
  await startFromPlaces(desk, [alder, bryony]);
  await alder.page.locator('.counting').waitFor();
  expect(await part.count()).toBe(0);
});

it('asks a performer what they know, and remembers what they did not', async () => {
  const { alder } = await evening.room.company(evening.house);
  const open = () => alder.page.locator('.my-part').getByText('My part').click();
  await open();
  await alder.page.getByRole('button', { name: 'Ask me: 6 moves' }).tap();
  const card = alder.page.locator('.ask-me');
  const next = async (knew: boolean): Promise<void> => {
    await card.getByRole('button', { name: 'Show it' }).tap();
    await card.getByRole('button', { name: knew ? '✓ I knew it' : 'Not yet' }).tap();
  };
  await next(true);
  // The attack stands there, and what answers it does not.
  await card.getByText('What do you answer?').waitFor();
  expect(await card.getByText('cut head').count()).toBe(1);
  expect(await card.getByText('parry 5').count()).toBe(0);
  expect(await card.locator('.picture').count()).toBe(0);
  expect(await complaints(alder.page)).toEqual([]);
  expect(await runsOut(alder.page)).toEqual([]);
  await card.getByRole('button', { name: 'Show it' }).tap();
  await card.getByText('parry 5').waitFor();
  await card.locator('.picture').waitFor();
  expect(await complaints(alder.page)).toEqual([]);
  await card.getByRole('button', { name: 'Not yet' }).tap();
  for (let n = 0; n < 4; n += 1) await next(true);
  await alder.page.getByText('You knew 5 of 6.').waitFor();
  // Also after the page was loaded anew.
  await alder.page.reload();
  await open();
  await alder.page.getByRole('button', { name: 'Only what I did not know: 1' }).tap();
  await next(true);
  await alder.page.getByText('You knew 1 of 1.').waitFor();
  expect(await alder.page.getByText('Only what I did not know').count()).toBe(0);
});

it('says what cannot be read, and reads it when it can', async () => {
  const { alder } = await evening.room.company(evening.house);
  let broken = true;
  await alder.context.route('**/api/part', (route) => (broken ? route.abort() : route.continue()));
  await alder.page.locator('.my-part').getByText('My part').click();
  const told = alder.page.getByText('The fight cannot be read now: the server does not answer.');
  await told.waitFor();
  broken = false;
  await alder.page.getByRole('button', { name: 'Try again' }).tap();
  await alder.page.getByRole('heading', { name: '2. The answer' }).waitFor();
  await told.waitFor({ state: 'detached' });
});
