// An evening in Firefox, at a real server: joining, places, a run, a hold from a phone, the score, the review. What needs a
// closer look is looked at in Chromium (browser/); here it is seen that another engine does the same.
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { Role } from '../core/wire';
import { House } from '../browser/support/server';
import { Company, type Person } from './support/person';

let house: House;
let company: Company;
beforeAll(async () => {
  // The fight ends in a long rest: however slow the machine is, what is done in a run is done in a run.
  house = await House.open({ score: (usual) => usual.replace('rest 2', 'rest 300') });
  company = await Company.gather();
});
afterAll(async () => {
  await company?.close();
  await house?.close();
});

/** The key, as WebDriver has it. */
const ENTER = '\uE007';

async function join(role: Role, name: string, part?: string): Promise<Person> {
  const phone = part !== undefined;
  const person = await company.come(name, phone ? 390 : 1_440, phone ? 844 : 900);
  await person.go(house.link(role));
  await person.press('Your name', 'input:not([type=radio])');
  await person.types(name);
  if (part !== undefined) await person.press(part, 'input[type=radio]');
  await person.press('Join');
  await person.sees('#vitals', 'Linked');
  return person;
}

it('a call, from the first name to the review', async () => {
  const desk = await join('desk', 'Ines');
  const alder = await join('performer', 'Lotte', 'ALDER');
  const bryony = await join('performer', 'Yusuf', 'BRYONY');

  await desk.press('Call places');
  for (const each of [alder, bryony]) await each.press('I am ready', 'button', 'touch');
  await desk.press('Start the count-in');
  for (const each of [desk, alder, bryony]) await each.sees('#vitals strong', 'RUNNING');
  await alder.sees('.slab', 'thrust belly');
  await bryony.sees('.slab', 'parry 4');

  await alder.press('HOLD', '#hold button', 'touch');
  for (const each of [desk, alder, bryony]) await each.sees('#vitals strong', 'HELD');
  await alder.sees('#hold', 'Written in the log');
  await bryony.sees('#hold', 'Lotte');
  expect((await house.log()).filter(({ kind }) => kind === 'hold').map(({ who }) => who)).toEqual(['Lotte']);
  await desk.press('Release …');
  await desk.press('Everybody is safe');
  for (const each of [desk, alder, bryony]) await each.sees('#vitals strong', 'STOPPED');

  const director = await join('director', 'Ana');
  await director.press('The text of the score', 'textarea');
  await director.types(`${ENTER}# the second phrase is too near the stairs${ENTER}`);
  await director.press('Why is it changed?', 'label input, label textarea');
  await director.types('For tomorrow');
  await director.press('Save');
  await director.sees('.told', 'Saved.');
  await director.press('The text of the score', 'textarea');
  await director.types(`${ENTER}nonsense${ENTER}`);
  await director.sees('.findings', 'ERROR');

  await desk.go(`http://${house.place}/review`);
  await desk.sees('[role=status]', 'As the log was at');
  await desk.sees('#page', '1 run: 0 to the end, 1 held');

  expect(company.complaints).toEqual([]);
  // And a complaint would have been heard.
  await bryony.says(() => console.error('on purpose'));
  await expect.poll(() => company.complaints).toEqual(['Yusuf: on purpose']);
});
