// When cues come out, over thousands of random orders of arrival, delay, generation, hold and lost link.
import { describe, expect, it } from 'vitest';
import { Scheduler, type Shown } from '../core/scheduler';
import { LATE_US, type Cue, type Fired } from '../core/wire';
import { chance } from './support/chance';
import { cue, FakeTime } from './support/fake';

const OFFSET = 7_000_000;

interface Out {
  shown: Shown[];
  armed: { cue: Cue; at: number }[];
  silenced: number;
  fired: Fired[];
}

interface Desk {
  scheduler: Scheduler;
  out: Out;
  live: { cue: Cue; at: number }[];
  /** What the scheduler asks before it lets anything out. */
  may: { show: boolean };
}

function desk(time: FakeTime, bound = 1_000): Desk {
  const may = { show: true };
  const out: Out = { shown: [], armed: [], silenced: 0, fired: [] };
  // What has been armed and not taken back: this is what would be heard.
  const live: { cue: Cue; at: number }[] = [];
  const estimate = () => ({ offset_us: OFFSET, bound_us: bound, round_trip_us: 2 * bound });
  const asked = { estimate, mayShow: () => may.show };
  const scheduler = new Scheduler(time, asked, {
    show: (shown) => out.shown.push(shown),
    arm: (armed, at) => {
      out.armed.push({ cue: armed, at });
      live.push({ cue: armed, at });
    },
    disarm: (armed) => {
      live.splice(0, live.length, ...live.filter((each) => each.cue.cue !== armed.cue));
    },
    silence: () => {
      out.silenced += 1;
      const now = time.nowUs();
      live.splice(0, live.length, ...live.filter((each) => each.at <= now));
    },
    report: (fired) => out.fired.push(fired),
  });
  return { scheduler, out, live, may };
}

describe('a cue', () => {
  it('comes out at its time on the synchronised clock, not when it arrives', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    const due = time.nowUs() + OFFSET + 1_500_000;
    scheduler.cue(cue(0, due));
    time.pass(1_499);
    expect(out.shown).toEqual([]);
    time.pass(2);
    expect(out.shown.map(({ late_us, at_us }) => [late_us, at_us + OFFSET - due])).toEqual([[null, 0]]);
    expect(out.fired).toEqual([{ generation: 1, cue: 0, due_us: due, fired_us: due, bound_us: 1_000 }]);
    expect(out.armed.map(({ at }) => at + OFFSET)).toEqual([due]);
  });

  it('that comes late is shown at once, says how late, and is never sounded', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    const due = time.nowUs() + OFFSET - 180_000;
    scheduler.cue(cue(0, due));
    expect(out.shown.map(({ late_us }) => late_us)).toEqual([180_000]);
    expect(out.armed).toEqual([]);
    expect(out.fired[0]?.fired_us).toBe(due + 180_000);
  });

  it('that comes later than a newer one is not shown, and reported as such', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    scheduler.cue(cue(5, time.nowUs() + OFFSET - 1_000));
    scheduler.cue(cue(4, time.nowUs() + OFFSET - 500_000));
    expect(out.shown.map(({ cue: { cue: number } }) => number)).toEqual([5]);
    expect(out.fired.map(({ cue: number, fired_us }) => [number, fired_us !== null])).toEqual([
      [5, true],
      [4, false],
    ]);
  });

  it('of a walk-through is shown on arrival', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    scheduler.cue(cue(0, null));
    scheduler.cue(cue(1, null));
    expect(out.shown.map((shown) => [shown.cue.cue, shown.late_us])).toEqual([
      [0, null],
      [1, null],
    ]);
  });

  it('whose time is corrected comes out once, at the new time', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    const now = time.nowUs() + OFFSET;
    scheduler.cue(cue(0, now + 500_000));
    scheduler.cue(cue(0, now + 800_000));
    time.pass(2_000);
    expect(out.shown.map(({ at_us }) => at_us + OFFSET - now)).toEqual([800_000]);
  });

  it('that is sent again is armed once, and a corrected one only for its new time', () => {
    const time = new FakeTime();
    const { scheduler, out, live } = desk(time);
    scheduler.begin(1, true);
    const due = time.nowUs() + OFFSET + 100_000;
    scheduler.cue(cue(0, due));
    scheduler.cue(cue(0, due));
    expect([live.length, out.armed.length]).toEqual([1, 1]);
    scheduler.cue(cue(0, due + 20_000));
    expect(live.map(({ at }) => at + OFFSET)).toEqual([due + 20_000]);
    time.pass(500);
    scheduler.cue(cue(0, due + 20_000));
    expect([out.shown.length, out.fired.length]).toEqual([1, 1]);
  });

  it('that was shown over an earlier line is shown again, in silence and without a report', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    scheduler.cue(cue(0, null));
    scheduler.shut();
    scheduler.begin(1, true);
    scheduler.cue(cue(0, null));
    expect(out.shown.map(({ again }) => again)).toEqual([false, true]);
    scheduler.begin(1, false);
    scheduler.cue(cue(0, null));
    expect(out.shown.map(({ again }) => again)).toEqual([false, true, false]);
    expect(out.fired).toEqual([]);
  });

  it('waits for the first clock exchange', () => {
    const time = new FakeTime();
    let known = false;
    const shown: Shown[] = [];
    const estimate = () => (known ? { offset_us: OFFSET, bound_us: 0, round_trip_us: 0 } : null);
    const nothing = () => undefined;
    const show = (each: Shown) => shown.push(each);
    const stage = { show, arm: nothing, disarm: nothing, silence: nothing, report: nothing };
    const scheduler = new Scheduler(time, { estimate, mayShow: () => true }, stage);
    scheduler.begin(1, true);
    scheduler.cue(cue(0, time.nowUs() + OFFSET + 100_000));
    time.pass(50);
    known = true;
    scheduler.look();
    time.pass(50);
    expect(shown.map(({ late_us }) => late_us)).toEqual([null]);
  });

  it('on a frozen page comes out late, and says so', () => {
    const time = new FakeTime();
    const { scheduler, out } = desk(time);
    scheduler.begin(1, true);
    scheduler.cue(cue(0, time.nowUs() + OFFSET + 400_000));
    time.freeze(700);
    expect(out.shown.map(({ late_us }) => late_us)).toEqual([300_000]);
    expect(out.armed).toEqual([]);
  });
});

describe('HOLD', () => {
  it('tapped here lets nothing out until it is answered, whatever still arrives', () => {
    const time = new FakeTime();
    const { scheduler, out, live, may } = desk(time);
    scheduler.begin(1, true);
    const due = time.nowUs() + OFFSET;
    scheduler.cue(cue(0, due + 100_000));
    expect(live.length).toBe(1);
    may.show = false;
    scheduler.hush();
    scheduler.cue(cue(1, due + 600_000));
    time.pass(2_000);
    expect([out.shown, live]).toEqual([[], []]);
    scheduler.cue(cue(0, time.nowUs() + OFFSET + 1_000, 2));
    may.show = true;
    time.pass(10);
    scheduler.look();
    expect(out.shown.map(({ cue: shown }) => shown.generation)).toEqual([2]);
  });
});

describe('over random evenings', () => {
  it('nothing of a passed generation, and nothing without a link, is shown or heard; nothing late is heard', () => {
    for (let seed = 1; seed <= 2_000; seed += 1) evening(seed);
  });
});

function evening(seed: number): void {
  const random = chance(seed);
  const time = new FakeTime(seed);
  const { scheduler, out, live } = desk(time);
  let generation = 1;
  let linked = true;
  let number = 0;
  scheduler.begin(generation, true);
  for (let step = 0; step < 60; step += 1) {
    const [before, what] = [out.shown.length, random()];
    if (what < 0.55) {
      const of = Math.max(0, generation - (random() < 0.2 ? 1 : 0));
      const due = time.nowUs() + OFFSET + Math.round((random() * 1.8 - 0.3) * 1e6);
      scheduler.cue(cue(number, random() < 0.1 ? null : due, of));
      number += 1;
    } else if (what < 0.65) {
      generation += 1;
      scheduler.raise(generation);
    } else if (what < 0.7) {
      linked = false;
      scheduler.shut();
    } else if (what < 0.75) {
      linked = true;
      scheduler.begin(generation, true);
    } else if (what < 0.8) {
      time.freeze(Math.round(random() * 900));
    } else {
      time.pass(Math.round(random() * 400));
    }
    for (const shown of out.shown.slice(before)) {
      expect([linked, shown.cue.generation], `seed ${seed}`).toEqual([true, generation]);
    }
    const toCome = live.filter((each) => each.at > time.nowUs());
    expect(
      toCome.every((each) => linked && each.cue.generation === generation),
      `seed ${seed}`,
    ).toBe(true);
  }
  for (const { late_us, cue: shown, at_us } of out.shown) {
    const late = shown.due_us === null ? 0 : at_us + OFFSET - shown.due_us;
    // What arrived late is late however little it was.
    if (late_us === null) expect(late, `seed ${seed}`).toBeLessThanOrEqual(LATE_US);
    else expect(late_us, `seed ${seed}`).toBe(late);
  }
  for (const { cue: armed, at } of out.armed) {
    expect(at + OFFSET, `seed ${seed}: armed for another time than it is due`).toBe(armed.due_us);
  }
  for (const fired of out.fired) {
    expect(fired.fired_us === null || fired.fired_us >= fired.due_us, `seed ${seed}: before its time`).toBe(true);
  }
}
