// What goes wrong at the door and in poor browsers: a page that says so and what to do, with HOLD wherever there is a link.
import { X509Certificate } from 'node:crypto';
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import { startChromium } from './support/chromium';
import { join, LAPTOP, PHONE, pressHold, Room, shows, startARun } from './support/seats';
import { House } from './support/server';

let house: House;
let room: Room;

beforeAll(async () => {
  room = new Room(await startChromium());
});
afterAll(() => room.close());
beforeEach(async () => {
  house = await House.open({ https: true });
});
afterEach(async () => {
  await room.clear();
  await house.close();
});

it('a code that was revoked says so, and what to do', async () => {
  const desk = await room.sit(house, 'desk', 'Runa');
  const old = house.link('observer');
  await desk.page.getByRole('button', { name: 'Show codes' }).click();
  const card = desk.page.locator('.invitations .card', { hasText: 'observer' });
  await card.getByRole('button', { name: 'Revoke …' }).click();
  await card.getByRole('button', { name: 'Revoke the code' }).click();
  await expect.poll(() => card.locator('.link').last().textContent()).not.toBe(old);
  const late = await room.open(PHONE);
  await late.page.goto(old);
  await late.page.getByText('Ask the stage manager for a new one').waitFor();
});

it('a name that looks like another’s is asked for anew, and a part that is taken too', async () => {
  await room.sit(house, 'performer', 'Noor', 'ALDER');
  const other = await room.open(PHONE);
  await other.page.goto(house.link('performer'));
  await other.page.getByLabel('Your name').fill('N00r');
  await other.page.getByRole('radio', { name: 'No part yet' }).check();
  await other.page.getByRole('button', { name: 'Join' }).click();
  await other.page.getByRole('alert').filter({ hasText: 'That looks like Noor, who is here already.' }).waitFor();
  await other.page.getByRole('radio', { name: 'ALDER' }).check();
  await other.page.getByLabel('Your name').fill('Noor B');
  await other.page.getByRole('button', { name: 'Join' }).click();
  await other.page.getByRole('alert').filter({ hasText: 'Noor has ALDER' }).waitFor();
  await other.page.getByRole('radio', { name: 'BRYONY' }).check();
  await other.page.getByRole('button', { name: 'Join' }).click();
  await shows(other, 'NOTHING SET');
});

it('a name in any script reads its own way', async () => {
  const named = await room.sit(house, 'captain', 'ליאור Ærø 渡辺');
  const who = named.page.locator('#vitals span[dir=auto]').first();
  // It is one touch away.
  await who.waitFor({ state: 'attached' });
  expect(await who.evaluate((span) => getComputedStyle(span).direction)).toBe('rtl');
});

it('a browser that refuses to keep anything, lacks every sense and is a day out says so and still holds', async () => {
  const poor = await room.open(PHONE);
  await poor.page.addInitScript(() => {
    const refuse = () => {
      throw new DOMException('no', 'SecurityError');
    };
    for (const name of ['localStorage', 'sessionStorage']) Object.defineProperty(window, name, { get: refuse });
    for (const name of ['AudioContext', 'speechSynthesis', 'SpeechSynthesisUtterance']) {
      Object.defineProperty(window, name, { value: undefined });
      Reflect.deleteProperty(window, name);
    }
    Reflect.deleteProperty(Navigator.prototype, 'vibrate');
    Reflect.deleteProperty(Navigator.prototype, 'wakeLock');
    const real = Date.now;
    Date.now = () => real() + 86_400_000;
  });
  await poor.page.goto(house.link('captain'));
  await poor.page.getByText('keeps nothing once the tab is closed').waitFor();
  await join(poor, 'captain', 'Bram');
  for (const text of ['cannot speak', 'cannot vibrate', 'keeps nothing', 'switch auto-lock off']) {
    await poor.page.getByText(text).waitFor();
  }
  await poor.page.reload();
  await shows(poor, 'NOTHING SET');
  await pressHold(poor);
  await poor.page.locator('#hold', { hasText: 'HELD' }).waitFor();
  await poor.page.getByRole('button', { name: 'Release …' }).tap();
  await poor.page.getByRole('button', { name: 'Everybody is safe' }).tap();
});

it('over HTTPS the screen is kept lit, with a certificate that holds what phones ask of it', async () => {
  const link = house.secureLinks.get('performer');
  if (link === undefined) throw new Error('no HTTPS link was printed');
  const seat = await room.open({ ...PHONE, ignoreHTTPSErrors: true });
  await seat.page.goto(link);
  await join(seat, 'performer', 'Sanne', 'BRYONY');
  expect(await seat.page.evaluate(() => window.isSecureContext)).toBe(true);
  const desk = await room.sit(house, 'desk', 'Ines', undefined, LAPTOP);
  const other = await room.sit(house, 'performer', 'Lotte', 'ALDER');
  await startARun(desk, [seat, other]);
  await pressHold(seat);
  for (const each of [desk, seat, other]) await shows(each, 'HELD');

  // OpenSSL, through Node, reads the authority that phones are given and finds our certificate signed by it. The limits
  // are Apple's: support.apple.com/102028.
  const pem = await (await fetch(`http://${house.place}/authority.crt`)).text();
  const authority = new X509Certificate(pem);
  // A client that trusts this authority and no other lets the address in, within the limits that the authority has.
  const served = await certificateAt(new URL(link), pem);
  expect((Date.parse(authority.validTo) - Date.parse(authority.validFrom)) / 86_400_000).toBeLessThanOrEqual(825);
  // The fingerprint that people compare is the one that phones show.
  await desk.page.getByRole('button', { name: 'Show codes' }).click();
  await desk.page.getByText(authority.fingerprint256).waitFor();
  expect(authority.ca).toBe(true);
  expect(served.verify(authority.publicKey)).toBe(true);
  expect(served.checkIP('127.0.0.1')).toBe('127.0.0.1');
  expect(served.keyUsage).toContain('1.3.6.1.5.5.7.3.1');
  const days = (Date.parse(served.validTo) - Date.parse(served.validFrom)) / 86_400_000;
  expect(days).toBeLessThanOrEqual(398);
});

async function certificateAt(url: URL, ca: string): Promise<X509Certificate> {
  const { connect } = await import('node:tls');
  return new Promise((resolve, reject) => {
    const socket = connect({ host: url.hostname, port: Number(url.port), ca }, () => {
      const found = socket.getPeerX509Certificate();
      socket.destroy();
      if (found === undefined) reject(new Error('no certificate'));
      else resolve(found);
    });
    socket.on('error', reject);
  });
}
