// Marks and walks on real pages: whoever walks reads their mark at places, their walk before and while it goes, and so
// do the desk and who looks on; in a walk-through a walk is a step of its own.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { startFromPlaces } from './support/seats';
import { House } from './support/server';

const evening = evenings(() =>
  House.open({
    score: (usual) =>
      usual.replace('  5      ALDER   cut flank', '  4 ALDER walk -0.7,3.5 by 8\n  9      ALDER   cut flank'),
  }),
);
const WAY = 'walk to 0.7 m stage right, 3.5 m up';

it('a walk is read by whoever walks, before and while they do', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  await alder.page.getByText('Your mark: 1.2 m stage right, 3 m up, facing Bryony').waitFor();
  await bryony.page.getByText('Your mark: 1.2 m stage left, 3 m up').waitFor();
  await startFromPlaces(desk, [alder, bryony]);
  const feet = alder.page.getByRole('region', { name: 'My feet' });
  await feet.getByText(WAY).waitFor();
  await alder.page
    .locator('.my-feet[data-due="true"]')
    .getByText(/there in \d beats?/)
    .waitFor();
  await desk.page.locator('.walks', { hasText: 'Alder' }).waitFor();
  expect(await complaints(alder.page)).toEqual([]);
  expect(await runsOut(alder.page)).toEqual([]);
  expect(await bryony.page.locator('.my-feet').count()).toBe(0);
});

it('in a walk-through a walk is a step', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const observer = await evening.room.sit(evening.house, 'observer', 'Sol');
  await desk.page.getByLabel('Driven').selectOption('step');
  await desk.page.getByRole('button', { name: 'Call places', exact: true }).click();
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await desk.page.getByRole('button', { name: 'Start the walk-through' }).click();
  const step = desk.page.getByRole('button', { name: /^Step(?! back)/ });
  for (const shown of ['thrust belly', 'cut head']) {
    await step.click();
    await desk.page.locator('.now', { hasText: shown }).waitFor();
    // What has stood on a screen for less than this was not seen.
    await desk.page.waitForTimeout(350);
  }
  await step.click();
  await alder.page.locator('.my-feet[data-due="true"]', { hasText: WAY }).waitFor();
  for (const page of [desk.page, observer.page]) await page.locator('.walks', { hasText: 'Alder' }).waitFor();
  const log = await evening.house.log();
  expect(log.filter(({ kind }) => kind === 'step').length).toBe(3);
});
