// One person with several pages open: the desk and the review in two tabs through a whole call, and more pages than a
// person may have.
import { expect, it } from 'vitest';
import { evenings } from './support/evening';
import { listened, pressHold, shows, startARun, type Seat } from './support/seats';
import { House } from './support/server';

// The fight ends in a long rest: however slow the machine is, what is done in a run is done in a run.
const evening = evenings(() => House.open({ score: (usual) => usual.replace('rest 2', 'rest 300') }));

/** Another tab of the same browser. */
async function tab(seat: Seat, path: string): Promise<Seat> {
  const page = await seat.context.newPage();
  const opened = listened(page, seat.context);
  await page.goto(`http://${evening.house.place}${path}`);
  await page.locator('#vitals', { hasText: 'Linked' }).waitFor();
  return opened;
}

it('desk, review and score in three tabs go through a whole call', async () => {
  const { desk, alder, bryony } = await evening.room.company(evening.house);
  const lost = async () =>
    (await evening.house.log()).filter(({ kind, who }) => kind === 'link-lost' && who === 'Ines').length;
  // From the page on which she joined to the desk there is a moment without a line.
  const before = await lost();
  const review = await tab(desk, '/review');
  const score = await tab(desk, '/score');
  const tabs = [desk, review, score];
  await startARun(desk, [alder, bryony]);
  for (const each of tabs) await shows(each, 'RUNNING');
  await pressHold(review);
  for (const each of [...tabs, alder, bryony]) await shows(each, 'HELD');
  await review.page.locator('#hold', { hasText: 'Written in the log' }).waitFor();
  // A tab is closed, one is loaded anew: the desk stays in the call, and so does its key.
  await score.page.close();
  await review.page.reload();
  await shows(review, 'HELD');
  await desk.page.getByRole('button', { name: 'Release …' }).first().click();
  await desk.page.getByRole('button', { name: 'Everybody is safe: release' }).click();
  for (const each of [desk, review, alder]) await shows(each, 'STOPPED');
  await desk.page.reload();
  await shows(desk, 'STOPPED');
  expect(await lost()).toBe(before);
  expect((await evening.house.log()).filter(({ kind }) => kind === 'hold')).toMatchObject([{ who: 'Ines' }]);
});

it('the oldest of too many pages is closed, says so, and is used again with one touch', async () => {
  const seat = await evening.room.sit(evening.house, 'performer', 'Lotte', 'ALDER');
  const more = [];
  for (let number = 0; number < 4; number += 1) more.push(await tab(seat, '/phone'));
  const { page } = seat;
  await page.getByText('CLOSED HERE').waitFor();
  await page.getByText('You have opened 4 other pages since, so this one was closed.').waitFor();
  // HOLD is there all the same.
  expect(await page.locator('#hold button').isVisible()).toBe(true);
  await page.getByRole('button', { name: 'Use it here' }).tap();
  await shows(seat, 'NOTHING SET');
  await more[0]!.page.getByText('CLOSED HERE').waitFor();
  await pressHold(more[0]!);
  // A tap is heard whatever was closed; its page is open again, and the next oldest is not.
  for (const each of [seat, more[0]!, more[2]!, more[3]!]) await shows(each, 'HELD');
  await more[1]!.page.getByText('CLOSED HERE').waitFor();
  expect((await evening.house.log()).filter(({ kind }) => kind === 'hold')).toMatchObject([{ who: 'Lotte' }]);
});

it('a name that is taken: the phone that has it is asked, and the newcomer goes on as who they are', async () => {
  const { desk, alder } = await evening.room.company(evening.house);
  const anew = await evening.room.sit(evening.house, 'performer', 'Lotte', 'ALDER');
  await anew.page.getByText('Lotte has been here already, so you have a number behind your name.').waitFor();
  await alder.page.getByText('Somebody has come under your name (Linux computer)').waitFor();
  await desk.page.getByText('Lotte (2) came under the name of Lotte. Is that Lotte?').waitFor();
  await alder.page.getByRole('button', { name: 'Yes, I go on there' }).tap();
  await alder.page.getByText('The same person has joined anew on another device.').waitFor();
  await anew.page.getByText('has been here already').waitFor({ state: 'detached' });
  await expect.poll(() => anew.page.title()).toContain('Lotte ·');
  // The part came with the name, and whoever opens the code on that phone again is offered to go on as Lotte.
  await expect.poll(() => desk.page.getByLabel('Part of Lotte').inputValue()).toBe('ALDER');
  await anew.page.goto(evening.house.link('performer'));
  await anew.page.getByRole('button', { name: 'Go on as Lotte, performer' }).waitFor();
  // From the page that is over, HOLD still goes out.
  await pressHold(alder);
  await shows(desk, 'HELD');
  await expect
    .poll(async () => (await evening.house.log()).filter(({ kind }) => kind === 'door' || kind === 'hold'))
    .toMatchObject([
      { kind: 'door', who: 'Lotte', reason: 'Lotte (2) is Lotte' },
      { kind: 'hold', who: 'Lotte' },
    ]);
});

it('whatever page somebody joins on, both are asked about a name that was here already', async () => {
  const joined = [
    ['captain', 'Noor'],
    ['sound', 'Pia'],
    ['observer', 'Ode'],
    ['director', 'Una'],
  ] as const;
  for (const [role, name] of joined) {
    const first = await evening.room.sit(evening.house, role, name);
    const second = await evening.room.sit(evening.house, role, name);
    await second.page.getByText(`${name} has been here already`).waitFor();
    await first.page.getByText('Somebody has come under your name').waitFor();
    await first.page.goto(`http://${evening.house.place}/review`);
    await first.page.getByText('Somebody has come under your name').waitFor();
    await first.page.getByRole('button', { name: 'No, that is somebody else' }).click();
    await second.page.getByText(`${name} has been here already`).waitFor({ state: 'detached' });
    for (const { page, context } of [first, second]) {
      await page.close();
      await context.close();
    }
  }
});

it('the desk sees with what somebody came, takes them out in two touches, and lets nobody new in', async () => {
  const { desk, alder } = await evening.room.company(evening.house);
  const { page } = desk;
  await page.getByRole('button', { name: 'About Lotte' }).click();
  await page.getByText(/Joined .*, Linux computer\./).waitFor();
  await page.getByRole('button', { name: 'Take Lotte out of the call' }).click();
  await alder.page.getByText('The stage manager has taken you out of the call.').waitFor();
  await page.getByRole('button', { name: 'About Lotte' }).waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Show codes' }).click();
  await page.getByRole('button', { name: 'Let nobody new in: performer' }).click();
  await page.getByText('CLOSED: nobody new is let in with this code.').waitFor();
  const stranger = await evening.room.open({});
  await stranger.page.goto(evening.house.link('performer'));
  await stranger.page.getByText('Nobody new is let in as performer now.').waitFor();
  await page.getByRole('button', { name: 'Let newcomers in again: performer' }).click();
  await evening.room.sit(evening.house, 'performer', 'Sanne', 'ALDER');
  await expect
    .poll(async () => (await evening.house.log()).filter(({ kind }) => kind === 'door'))
    .toMatchObject([
      { who: 'Ines', reason: 'Lotte taken out of the call' },
      { who: 'Ines', reason: 'nobody new as performer' },
      { who: 'Ines', reason: 'newcomers as performer again' },
    ]);
});
