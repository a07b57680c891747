// Everybody at once at the pages of one real server, each doing what their work asks of them; and the whole call once more
// from the desk's keyboard alone.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { fired, pressHold, shows, startARun, type Seat } from './support/seats';
import { House } from './support/server';

// The fight ends in a long rest: however slow the machine is, what is done in a run is done in a run. It is counted in as
// usual: eight pages are looked at before its first move.
const evening = evenings(() => House.open({ score: (usual) => usual.replace('rest 2', 'rest 300'), countIn: null }));

it('everybody at once', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const captain = await evening.room.sit(evening.house, 'captain', 'Bram');
  const second = await evening.room.sit(evening.house, 'desk', 'Mirel');
  const watcher = await evening.room.sit(evening.house, 'observer', 'Pim');
  const director = await evening.room.sit(evening.house, 'director', 'Ana');
  const operator = await evening.room.sit(evening.house, 'sound', 'Nia');
  const everybody = [desk, alder, bryony, captain, second, watcher, director, operator];

  // An understudy takes BRYONY over without a change to the score.
  const understudy = await evening.room.sit(evening.house, 'performer', 'Ayo', 'No part yet');
  await desk.page.getByLabel('Part of Yusuf').selectOption({ index: 0 });
  await desk.page.getByLabel('Part of Ayo').selectOption('BRYONY');
  await understudy.page.getByText('You play BRYONY').waitFor();
  await startARun(desk, [alder, understudy]);
  for (const each of everybody) await shows(each, 'RUNNING');

  // The performer: own action, the answer to it. The captain: all fighters. The second desk: the same strip.
  await alder.page.locator('.attack', { hasText: 'thrust belly' }).first().waitFor();
  await captain.page.locator('.groups', { hasText: 'parry 4' }).first().waitFor();
  await second.page.locator('.strip .act', { hasText: 'thrust belly' }).first().waitFor();
  expect(
    await watcher.page
      .locator('#page')
      .getByRole('button', { name: /Stop|Release|Step/ })
      .count(),
  ).toBe(0);
  await expect.poll(() => fired(alder).length, { timeout: 20_000 }).toBeGreaterThan(1);

  // The director writes on while it runs: what is wrong is said, what is saved is for the next run.
  const text = director.page.getByLabel('The text of the score');
  const written = await text.inputValue();
  await text.fill(written.replace('parry 4', 'parry 11'));
  await director.page.locator('.findings', { hasText: 'ERROR' }).waitFor();
  await text.fill(`${written}# the second phrase is too near the stairs\n`);
  await director.page.locator('.findings', { hasText: 'Nothing found' }).waitFor();
  await director.page.getByLabel('Why is it changed?').fill('For tomorrow');
  await director.page.getByRole('button', { name: 'Save' }).click();
  await director.page.locator('.told', { hasText: 'Saved.' }).waitFor();
  // The sound operator sees the cues and mutes; the desk is told by whom.
  await operator.page.getByRole('heading', { name: 'Sound cues' }).waitFor();
  await operator.page.getByRole('button', { name: 'Mute all' }).click();
  await desk.page.getByText('Nia has muted sound').first().waitFor();
  await operator.page.getByRole('button', { name: 'Let it be heard again' }).click();
  for (const each of everybody) await shows(each, 'RUNNING');

  // The watcher holds; everybody stands; the desk's note, begun while it stands, goes to it although it is released.
  await pressHold(watcher);
  for (const each of [...everybody, understudy]) await shows(each, 'HELD');
  expect(await desk.page.getByRole('button', { name: 'End the call …' }).count()).toBe(0);
  const note = desk.page.locator('.run .note-field');
  await note.fill('The grip');
  await captain.page.getByRole('button', { name: 'Release …' }).tap();
  await captain.page.getByText('Pim').first().waitFor();
  await captain.page.getByRole('button', { name: 'Everybody is safe: release' }).tap();
  for (const each of everybody) await shows(each, 'STOPPED');
  await note.press('End');
  await note.pressSequentially(' slipped');
  await note.press('Enter');
  await expect
    .poll(async () => (await evening.house.log()).filter(({ kind }) => kind === 'note').map(({ reason }) => reason))
    .toEqual(['The grip slipped']);
  await captain.page.getByLabel('Note to hold 1').fill('Drill it at half speed');
  await captain.page.getByRole('button', { name: 'Add note' }).tap();
  await second.page.getByText('Drill it at half speed').waitFor();

  // A walk-through by the captain, and a stop with a reason.
  await desk.page.getByLabel('Driven').selectOption('step');
  await desk.page.getByRole('button', { name: 'Call places' }).last().click();
  for (const phone of [alder, understudy]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await desk.page.getByRole('button', { name: 'Start the walk-through' }).click();
  await shows(captain, 'RUNNING');
  await captain.page.getByRole('button', { name: /^Step(?! back)/ }).tap();
  await understudy.page.locator('.slab[data-due="true"] .reply', { hasText: 'parry 4' }).waitFor();
  await captain.page.getByRole('button', { name: 'Stop …' }).tap();
  await captain.page.getByRole('button', { name: 'Out of place' }).tap();
  await captain.page.getByRole('button', { name: 'Stop the run' }).tap();
  for (const each of everybody) await shows(each, 'STOPPED');
  await desk.page.getByText('Out of place').first().waitFor();
});

it('a whole call from the keyboard of the desk', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const { page } = desk;
  const press = (key: string) => page.keyboard.press(key);
  await page.locator('body').click({ position: { x: 5, y: 5 } });
  // Choose: the last phrase only, 10 % faster; places.
  await press('i');
  await press('f');
  await press('f');
  await press('p');
  await shows(desk, 'PLACES');
  expect(desk.said.find(({ kind }) => kind === 'places')).toMatchObject({
    setup: { from: 1, to: 1, percent: 60 },
  });
  for (const phone of [alder, bryony]) await phone.page.getByRole('button', { name: 'I am ready' }).tap();
  await page.getByText('Everybody is ready.', { exact: true }).waitFor();
  // Start, faster, hold.
  // Pressed anew where a busy machine let a link flicker, and the key asked instead of starting.
  const begun = async (): Promise<boolean> => (await press('b'), desk.said.some(({ kind }) => kind === 'start'));
  await expect.poll(begun, { timeout: 20_000, interval: 700 }).toBe(true);
  await shows(desk, 'RUNNING');
  await press('f');
  await expect.poll(() => desk.said.find(({ kind }) => kind === 'speed')).toMatchObject({ percent: 65 });
  await press('Escape');
  await shows(desk, 'HELD');
  // A note, in the field; no key acts while somebody types.
  await page.locator('.run .note-field').waitFor();
  await press('o');
  await page.keyboard.type('per beat');
  await press('Enter');
  await page.locator('.note', { hasText: 'per beat' }).waitFor();
  // Out of the field, release: opens the question, and Tab and Enter answer it.
  await page.locator('.run .note-field').evaluate((field: HTMLElement) => field.blur());
  await press('e');
  await page.getByText('are they all content').waitFor();
  await tabTo(desk, 'Everybody is safe: release');
  await press('Enter');
  await shows(desk, 'STOPPED');
  // Restart from the phrase; then a stop with a reason, and the end.
  await press('r');
  await shows(desk, 'PLACES');
  await tabTo(desk, 'End the call …');
  await press('Enter');
  await tabTo(desk, 'End the call for everybody');
  await press('Enter');
  await expect.poll(async () => (await evening.house.log()).map(({ kind }) => kind)).toContain('end');
});

it('the keys of the desk can be changed, are kept, and can be switched off; the space bar cannot be chosen', async () => {
  const desk = await evening.room.sit(evening.house, 'desk', 'Ines');
  const { page } = desk;
  const show = () => page.getByRole('button', { name: 'Show keys' }).click();
  await show();
  await page.getByRole('button', { name: 'Call places: P' }).click();
  await page.keyboard.press('Space');
  await page.getByText('That key cannot be chosen').waitFor();
  await page.keyboard.press('j');
  await page.getByRole('button', { name: 'Call places: J' }).waitFor();
  desk.heard.length = 0;
  await page.reload();
  await shows(desk, 'NOTHING SET');
  // Places need a fight, and the fights are told a moment after the welcome.
  await expect
    .poll(() => desk.heard.some((message) => message.kind === 'subject' && message.tells.subject === 'fights'), {
      timeout: 20_000,
    })
    .toBe(true);
  await page.keyboard.press('p');
  await page.keyboard.press('j');
  await shows(desk, 'PLACES');
  expect(desk.said.filter(({ kind }) => kind === 'places')).toHaveLength(1);
  await show();
  await page.getByRole('switch', { name: 'Keys' }).click();
  await page.keyboard.press('j');
  await page.getByRole('switch', { name: 'Keys: off' }).waitFor();
  expect(desk.said.filter(({ kind }) => kind === 'places')).toHaveLength(1);
});

it('a HOLD is sent as soon as a page that was busy for half a second breathes again', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await startARun(desk, [alder, bryony]);
  const busy = alder.page.evaluate(() => {
    const end = performance.now() + 500;
    while (performance.now() < end);
  });
  await pressHold(alder);
  await busy;
  for (const each of [desk, alder, bryony]) await shows(each, 'HELD');
  expect((await evening.house.log()).find(({ kind }) => kind === 'hold')).toMatchObject({ who: 'Lotte' });
});

it('the pocket guard: never on by itself, dark, and HOLD takes a slide', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  await startARun(desk, [alder, bryony]);
  const { page } = alder;
  await page.getByRole('button', { name: 'Pocket guard' }).tap();
  await page.locator('#guard').waitFor();
  await page.locator('#hold button').tap();
  await page.locator('#hold button').tap();
  expect(alder.said.filter(({ kind }) => kind === 'hold')).toEqual([]);
  const box = await page.locator('#hold button').boundingBox();
  if (box === null) throw new Error('there is no HOLD');
  const y = box.y + box.height / 2;
  await page.mouse.move(box.x + 30, y);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.4, y);
  expect(alder.said.filter(({ kind }) => kind === 'hold')).toEqual([]);
  await page.mouse.move(box.x + box.width * 0.8, y);
  await page.mouse.up();
  for (const each of [desk, alder, bryony]) await shows(each, 'HELD');
  expect(await page.locator('#guard').isVisible()).toBe(false);
  await page.getByRole('button', { name: 'Pocket guard' }).tap();
  await page.reload();
  await shows(alder, 'HELD');
  expect(await page.locator('#guard').isVisible()).toBe(false);
});

it('what was chosen on a phone is there after a reload, and what happened is said in words', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const { page } = alder;
  const vibration = page.getByRole('group', { name: 'Vibration' });
  await page.getByRole('group', { name: 'Hand' }).getByRole('button', { name: 'left' }).tap();
  await page.getByRole('group', { name: 'Text' }).getByRole('button', { name: 'large' }).tap();
  await vibration.getByRole('button', { name: 'moves', exact: true }).tap();
  await startARun(desk, [alder, bryony]);
  await page.reload();
  await page.locator('.news', { hasText: 'already' }).waitFor();
  const html = page.locator('html');
  expect(await html.getAttribute('data-hand')).toBe('left');
  expect(await html.getAttribute('data-text')).toBe('large');
  const place = evening.house.place;
  await evening.house.stop('SIGKILL');
  await page.locator('#sheet', { hasText: 'NO LINK' }).waitFor();
  await evening.house.start(place);
  await page.locator('.news', { hasText: 'started anew' }).waitFor();
});

// Tab until the focus is on a button of that name.
async function tabTo({ page }: Seat, name: string): Promise<void> {
  for (let tabs = 0; tabs < 60; tabs += 1) {
    const on = await page.evaluate(() => document.activeElement?.textContent ?? '');
    if (on.startsWith(name)) return;
    await page.keyboard.press('Tab');
  }
  throw new Error(`the keyboard does not reach ${name}`);
}
