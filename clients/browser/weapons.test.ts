// Weapons and patterns at the desk: a set of practice weapons and a stage of a pattern are chosen for a run, every phone
// says so before it is ready, and the review tells the runs apart.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { shows, startFromPlaces } from './support/seats';
import { House } from './support/server';

const PATTERN = `
phrase "Round"
  use "Square" at 1 by ALDER, BRYONY
pattern "Square" for A, B every 4
  stage "in place"
    1 A cut flank right / B parry 3
  stage "both ways"
    3 B thrust belly / A parry 4
`;

const config = '\n[weapon_sets.wood]\nrapier = "dowel"\n';
const evening = evenings(() =>
  House.open({ config, score: (usual) => usual.replace('tempo 60', 'tempo 150') + PATTERN }),
);

it('runs a stage of a pattern with practice weapons, and everybody knows', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const weapons = desk.page.getByLabel('Weapons');
  expect(await weapons.locator('option').allTextContents()).toEqual(['as the score says', 'wood']);
  await weapons.selectOption('wood');
  const fight = desk.page.getByRole('combobox', { name: /^Fight/ });
  await fight.selectOption('Square by ALDER and BRYONY');
  // What was chosen stays where the other fight has it, too.
  expect(await weapons.inputValue()).toBe('wood');
  // Its stages are what can be chosen, and the first of them is.
  const stages = desk.page.getByRole('combobox').filter({ has: desk.page.locator('option', { hasText: 'in place' }) });
  expect(await stages.last().locator('option').allTextContents()).toEqual(['1. in place', '2. both ways']);
  expect(await stages.last().inputValue()).toBe('0');
  await desk.page.getByLabel('Speed (%)').fill('150');
  for (const width of [1_440, 1_024]) {
    await desk.page.setViewportSize({ width, height: 900 });
    expect(await runsOut(desk.page)).toEqual([]);
    expect(await complaints(desk.page)).toEqual([]);
  }
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  for (const phone of [alder, bryony]) {
    await phone.page.getByText('Square by ALDER and BRYONY: “in place”.').waitFor();
    await phone.page.getByText('Weapons: wood.').waitFor();
    expect(await runsOut(phone.page)).toEqual([]);
    expect(await complaints(phone.page)).toEqual([]);
  }
  await startFromPlaces(desk, [alder, bryony]);
  for (const seat of [desk, alder, bryony]) await shows(seat, 'COMPLETE');

  const director = await evening.room.sit(evening.house, 'director', 'Ada');
  await director.page.goto(`http://${evening.house.place}/review`);
  const filter = director.page.getByLabel('Weapons');
  await filter.selectOption('as the score says');
  await director.page.getByText('Nothing was run').first().waitFor();
  await filter.selectOption('wood');
  await director.page.getByRole('heading', { name: 'Square by ALDER and BRYONY' }).waitFor();
  expect(await complaints(director.page)).toEqual([]);
});
