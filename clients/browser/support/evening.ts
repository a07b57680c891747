// Each test of a file in a house of its own, with one browser for all of them.
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';
import { startChromium } from './chromium';
import { Room } from './seats';
import type { House } from './server';

/** The house of the test that runs, and the people in it. */
export interface Evening {
  house: House;
  room: Room;
}

/** Opens a house before each test of this file and closes it after it. Not to be looked into before a test runs. */
export function evenings(open: () => Promise<House>): Evening {
  const evening = {} as Evening;
  beforeAll(async () => {
    evening.room = new Room(await startChromium());
  });
  afterAll(() => evening.room.close());
  beforeEach(async () => {
    evening.house = await open();
  });
  afterEach(async () => {
    await evening.room.clear();
    await evening.house.close();
  });
  return evening;
}
