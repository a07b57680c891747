// Marks and walks on real pages: whoever walks reads their mark at places, their walk before and while it goes, and so
// do the desk and who looks on; in a walk-through a walk is a step of its own.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { complaints, runsOut } from './support/judge';
import { startFromPlaces, type Seat } from './support/seats';
import { House } from './support/server';

const evening = evenings(() =>
  House.open({
    score: (usual) =>
      usual
        .replace('  5      ALDER   cut flank', '  4 ALDER walk -0.7,3.5 by 8\n  9      ALDER   cut flank')
        .replace('\nphrase "Sal', '\nbystanders\n  PELL\n\nphrase "Sal')
        .replace('\n  1 ', '\n  place PELL -1.2,5.7 facing 180\n  6 PELL walk -1.2,7 by 10\n  1 '),
  }),
);
const WAY = 'walk to 0.7 m stage right, 3.5 m up';

/** Places at performance tempo: a beat a second. */
async function callPlaces({ page }: Seat): Promise<void> {
  await page.getByLabel('Speed (%)').fill('100');
  await page.getByRole('button', { name: 'Call places', exact: true }).click();
}

it('a walk is read by whoever walks, before and while they do', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await callPlaces(desk);
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

it('who only stands by reads their mark, what passes near them and when, and when to walk', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const pell = await evening.room.sit(evening.house, 'performer', 'Rosa Bell', 'PELL');
  await callPlaces(desk);
  await pell.page.getByText('Your mark: 1.2 m stage right, 5.7 m up, facing 180°').waitFor();
  await pell.page.getByText(/passes? near you.*from you, in front of you\./).waitFor();
  // Nobody waits for who does not fight: there is nothing to be ready for.
  expect(await pell.page.getByRole('button', { name: 'I am ready' }).count()).toBe(0);
  await startFromPlaces(desk, [alder, bryony]);
  const near = pell.page.getByRole('region', { name: 'What passes near you' });
  await near.getByText(/(Alder|Bryony)’s .* passes \d\.\d\sm from you, in front of you/).waitFor();
  await pell.page.locator('.nearing[data-due="true"]').waitFor();
  await pell.page.locator('.my-feet[data-due="true"]', { hasText: 'walk to 1.2 m stage right, 7 m up' }).waitFor();
  expect(await complaints(pell.page)).toEqual([]);
  expect(await runsOut(pell.page)).toEqual([]);
  expect(await alder.page.locator('.nearing').count()).toBe(0);
});

it('who only stands by has a part to read', async () => {
  const { pell } = { pell: await evening.room.sit(evening.house, 'performer', 'Rosa Bell', 'PELL') };
  await pell.page.getByText('My part', { exact: false }).first().click();
  await pell.page.locator('.my-part .feet', { hasText: 'walk to 1.2 m stage right, 7 m up' }).waitFor();
  await pell.page.locator('.my-part .feet', { hasText: 'from you, in front of you' }).first().waitFor();
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
