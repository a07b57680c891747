// A walk-through on real pages: two taps at once are one step, two people at once are one step, it goes back; and a run is
// begun again from the move that was held.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { pressHold, release, type Seat, shows, startARun } from './support/seats';
import { House } from './support/server';

const evening = evenings(() => House.open({ score: (usual) => usual.replace('rest 2', 'rest 300') }));

// On the desk, in the seat of who acts, among the pairs of who looks on.
const now = ({ page }: Seat) => page.locator('.now, .slab[data-due="true"], .groups[data-due="true"]');
const step = ({ page }: Seat) => page.getByRole('button', { name: /^Step(?! back)/ });
const back = ({ page }: Seat) => page.getByRole('button', { name: /^Step back/ });
// What has stood on a screen for less than this was not seen.
const look = ({ page }: Seat) => page.waitForTimeout(350);

it('steps once for two taps and two people, and goes back', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const captain = await evening.room.sit(evening.house, 'captain', 'Bram');
  await desk.page.getByLabel('Driven').selectOption('step');
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await desk.page.getByRole('button', { name: 'Start the walk-through' }).click();
  await shows(captain, 'RUNNING');
  await step(desk).dblclick();
  await now(alder).getByText('thrust belly').waitFor();
  await look(captain);
  // The desk and the captain at the same instant.
  await Promise.all([step(desk).click(), step(captain).tap()]);
  for (const each of [desk, captain, alder, bryony]) await now(each).getByText('cut head').waitFor();
  await look(captain);
  await back(captain).tap();
  for (const each of [desk, captain, alder, bryony]) await now(each).getByText('thrust belly').waitFor();
  await look(desk);
  await desk.page.keyboard.press('v');
  await desk.page.getByText('This is the first move').waitFor();
  await now(alder).getByText('thrust belly').waitFor();
  const steps = (await evening.house.log()).filter(({ kind }) => kind === 'step');
  expect(steps.map(({ words }) => words)).toEqual([
    'ALDER thrust belly / BRYONY parry 4',
    'BRYONY cut head / ALDER parry 5',
    'ALDER thrust belly / BRYONY parry 4',
  ]);
});

it('takes one step from two desks at once, each tapped twice, on and back', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const second = await evening.room.sit(evening.house, 'desk', 'Ines');
  const everybody = [desk, second, alder, bryony];
  await desk.page.getByLabel('Driven').selectOption('step');
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await second.page.getByRole('button', { name: 'Start the walk-through' }).click();
  for (const each of [desk, second]) await shows(each, 'RUNNING');
  const steps = async () => (await evening.house.log()).filter(({ kind }) => kind === 'step').map(({ words }) => words);
  const FIRST = 'ALDER thrust belly / BRYONY parry 4';
  const SECOND = 'BRYONY cut head / ALDER parry 5';
  const all = async (says: string) => {
    for (const each of everybody) await now(each).getByText(says).waitFor();
    await Promise.all([desk, second].map(look));
  };
  await Promise.all([step(desk).dblclick(), step(second).dblclick()]);
  await all('thrust belly');
  expect(await steps()).toEqual([FIRST]);
  await Promise.all([step(second).dblclick(), step(desk).dblclick()]);
  await all('cut head');
  await Promise.all([back(desk).dblclick(), back(second).dblclick()]);
  await all('thrust belly');
  expect(await steps()).toEqual([FIRST, SECOND, FIRST]);
  // One goes on, the other back, from the same screen: only the first to arrive is a step. The first move has none before it.
  await step(desk).click();
  await all('cut head');
  await Promise.all([step(desk).click(), back(second).click()]);
  await expect.poll(async () => (await steps()).length).toBe(5);
  const last = (await steps()).at(-1);
  await all(last === FIRST ? 'thrust belly' : 'cut flank right');
  expect(await steps()).toHaveLength(5);
});

it('begins again from the move that was held, and everybody reads how they stand', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await startARun(desk, [alder, bryony]);
  await now(alder).getByText('cut flank right').waitFor();
  await pressHold(bryony);
  for (const each of [desk, alder, bryony]) await shows(each, 'HELD');
  await release(desk);
  await desk.page.getByRole('button', { name: /Call places from move 3: ALDER cut flank right/ }).click();
  await alder.page.getByText('You stand: on the mark, on both feet, rapier in the right hand.').waitFor();
  await desk.page.getByText('It begins in the middle: “Salute and first attack”, move 3, beat 5').waitFor();
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await desk.page.getByRole('button', { name: 'Start the count-in' }).click();
  for (const each of [desk, alder, bryony]) await shows(each, 'RUNNING');
  await now(alder).getByText('cut flank right').waitFor();
  // From the form: another move of the phrase, by name.
  await pressHold(alder);
  await release(desk);
  await desk.page.getByLabel('From the move').selectOption({ label: '2. beat 3: BRYONY cut head / ALDER parry 5' });
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  await alder.page.getByText('move 2, beat 3').waitFor();
});
