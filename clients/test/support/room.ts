// A member's session over a network of the test's own, and what its page did.
import { decode } from '@msgpack/msgpack';
import type { Entry } from '../../core/keys';
import { memoryStore, type Store } from '../../core/platform';
import type { Shown } from '../../core/scheduler';
import { Session, type Senses } from '../../core/session';
import type { HoldTap, ToServer } from '../../core/wire';
import { FakeNetwork, FakeTime } from './fake';

export const entry: Entry = {
  key: 'a-key',
  invitation: '00000000',
  role: 'performer',
  name: 'Ana',
  part: 'MARET',
  production: 'The Salt Stair',
};

export const noSenses: Senses = {
  arm: () => undefined,
  disarm: () => undefined,
  shown: () => undefined,
  silence: () => undefined,
  callHold: () => false,
};

export function sentKind(bytes: Uint8Array): string {
  return (decode(bytes) as ToServer).kind;
}

export interface Room {
  time: FakeTime;
  network: FakeNetwork;
  session: Session;
  shown: Shown[];
  silenced: () => number;
  called: () => number;
  barred: Entry[];
  holds: () => HoldTap[];
}

export function room(store: Store = memoryStore(), seed = 1): Room {
  const time = new FakeTime(seed);
  const network = new FakeNetwork(time);
  const shown: Shown[] = [];
  const barred: Entry[] = [];
  let silences = 0;
  let calls = 0;
  const session = new Session({
    platform: time,
    dial: network.dial,
    store,
    senses: {
      ...noSenses,
      shown: (each) => shown.push(each),
      silence: () => (silences += 1),
      callHold: () => ((calls += 1), true),
    },
    visible: () => true,
    entry,
    page: 'a-page',
    barred: (gone) => barred.push(gone),
  });
  session.start();
  const holds = () => network.heard.filter((message) => message.kind === 'hold');
  return { time, network, session, shown, silenced: () => silences, called: () => calls, barred, holds };
}
