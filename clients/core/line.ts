// The straight line that the offset most likely follows: how far the server is ahead, and how fast that changes. The
// twin of `src/clock/line.rs`, where the method is explained: of all skews that the exchanges leave possible, the mean
// over their likelihood. Only additions, subtractions, multiplications, divisions and comparisons, in the same order as
// there, so that the two agree to the last bit.
import { MOST_SKEW, SKEW_STEPS, SKEWS_LEFT_OUT, USUAL_SKEW } from './wire';

/** What one exchange says of the offset, relative to the moment and the base that the caller has chosen; all µs. */
export interface Limits {
  /** How long before that moment the question went out. */
  asked: number;
  /** The offset was no more than this then. */
  most: number;
  /** How long before that moment the answer came. */
  returned: number;
  /** The offset was no less than this then. */
  least: number;
}

/** Where the offset is at the caller's moment, and how it moves. */
export interface Line {
  /** The offset, µs above the base. */
  offset: number;
  /** Its change, µs per µs. */
  skew: number;
  /** The smallest skew that fits. */
  leastSkew: number;
  /** The greatest skew that fits. */
  mostSkew: number;
  /** How much longer a round trip takes in the middle than the fastest ways together, µs. */
  excess: number;
}

/**
 * The line through limits in the order of their answers. When no line fits all of them, the rate has changed, and the
 * older half is left out until one does.
 */
export function lineThrough(limits: readonly Limits[]): Line | null {
  for (let newest = limits; newest.length > 0; newest = newest.slice(Math.ceil(newest.length / 2))) {
    const line = new Corridor(newest).line();
    if (line !== null) return line;
  }
  return null;
}

/** A straight line over the skew: `value + slope × skew`. */
interface Straight {
  slope: number;
  value: number;
}

/** The least of many straight lines, steepest first, with the skews at which one gives way to the next. */
class Least {
  readonly cuts: number[] = [];
  readonly #lines: Straight[] = [];

  constructor(all: Straight[]) {
    all.sort((one, other) => other.slope - one.slope || one.value - other.value);
    const lines = this.#lines;
    for (const line of all) {
      if (lines.at(-1)?.slope === line.slope) continue;
      while (isHidden(lines.at(-2), lines.at(-1), line)) lines.pop();
      lines.push(line);
    }
    lines.forEach((other, n) => {
      const one = lines[n - 1];
      if (one !== undefined) this.cuts.push((other.value - one.value) / (one.slope - other.slope));
    });
  }

  at(skew: number): number {
    let least = Infinity;
    for (const { slope, value } of this.#lines) least = Math.min(least, value + slope * skew);
    return least;
  }
}

// True when the middle one of three lines is nowhere the least.
function isHidden(before: Straight | undefined, last: Straight | undefined, line: Straight): boolean {
  if (before === undefined || last === undefined) return false;
  return (
    (line.value - before.value) * (before.slope - last.slope) <=
    (last.value - before.value) * (before.slope - line.slope)
  );
}

/** The corridor at one skew. */
interface Edge {
  skew: number;
  /** Upper less lower limit, µs. */
  height: number;
  /** Between the two, µs. */
  middle: number;
  /** The mean round trip less the height, and a little, µs: the less, the likelier. */
  excess: number;
}

type Span = [from: number, to: number];

/** What the limits leave, skew by skew. */
class Corridor {
  readonly #most: Least;
  readonly #least: Least;
  readonly #mean: Straight;
  readonly #exchanges: number;

  constructor(limits: readonly Limits[]) {
    this.#most = new Least(limits.map((each) => ({ slope: each.asked, value: each.most })));
    this.#least = new Least(limits.map((each) => ({ slope: -each.returned, value: -each.least })));
    const sum = { slope: 0, value: 0 };
    for (const each of limits) {
      sum.value += each.most - each.least;
      sum.slope += each.asked - each.returned;
    }
    this.#exchanges = limits.length;
    this.#mean = { slope: sum.slope / limits.length, value: sum.value / limits.length };
  }

  /** The mean line; nothing when no skew is possible. */
  line(): Line | null {
    const all = this.#edges(MOST_SKEW);
    const peak = likeliest(all);
    if (peak === null) return null;
    const cut = SKEWS_LEFT_OUT / 2 / this.#exchanges;
    const level = (of: Edge): number => of.excess + of.excess * cut;
    const usual = this.#edges(USUAL_SKEW);
    const best = likeliest(usual);
    const [edges, top] = best !== null && best.excess <= level(peak) ? [usual, best] : [all, peak];
    const likely = span(edges, (edge) => level(top) - edge.excess);
    const possible = span(edges, (edge) => edge.height);
    return likely === null || possible === null ? null : this.#meanLine(likely, possible, top);
  }

  #meanLine([from, to]: Span, [leastSkew, mostSkew]: Span, peak: Edge): Line {
    let [weights, skews, offsets] = [0, 0, 0];
    for (let step = 0; step <= SKEW_STEPS; step += 1) {
      const edge = this.#at(from + ((to - from) * step) / SKEW_STEPS);
      const end = step === 0 || step === SKEW_STEPS ? 0.5 : 1;
      const weight = end * power(peak.excess / edge.excess, 2 * this.#exchanges);
      weights += weight;
      skews += weight * edge.skew;
      offsets += weight * edge.middle;
    }
    return { offset: offsets / weights, skew: skews / weights, leastSkew, mostSkew, excess: peak.excess };
  }

  #at(skew: number): Edge {
    const [most, least] = [this.#most.at(skew), -this.#least.at(skew)];
    const height = most - least;
    // Readings are whole microseconds: no excess is known better than that.
    const excess = this.#mean.value + this.#mean.slope * skew - height + 1;
    return { skew, height, middle: (most + least) / 2, excess };
  }

  // The corridor at both reaches and wherever a limit gives way to another between them, in order.
  #edges(reach: number): Edge[] {
    const cuts = [...this.#most.cuts, ...this.#least.cuts].filter((cut) => -reach < cut && cut < reach);
    cuts.push(-reach, reach);
    cuts.sort((one, other) => one - other);
    return cuts.map((cut) => this.#at(cut));
  }
}

// The possible edge with the least excess.
function likeliest(edges: readonly Edge[]): Edge | null {
  let best: Edge | null = null;
  for (const edge of edges) {
    if (edge.height >= 0 && (best === null || edge.excess < best.excess)) best = edge;
  }
  return best;
}

// The first and the last skew at which `over`, straight between edges and bulging upwards, is not negative.
function span(edges: readonly Edge[], over: (edge: Edge) => number): Span | null {
  const crossing = (out: Edge, inside: Edge): number =>
    out.skew + (inside.skew - out.skew) * (over(out) / (over(out) - over(inside)));
  let [first, last]: (number | null)[] = [null, null];
  let before: Edge | null = null;
  for (const edge of edges) {
    if (over(edge) >= 0) {
      first ??= before === null ? edge.skew : crossing(before, edge);
      last = edge.skew;
    } else if (before !== null && over(before) >= 0) {
      last = crossing(edge, before);
    }
    before = edge;
  }
  return first == null || last == null ? null : [first, last];
}

// `base` to the power of a whole number, by squaring.
function power(base: number, exponent: number): number {
  let [result, square] = [1, base];
  for (let left = exponent; left > 0; left = Math.floor(left / 2)) {
    if (left % 2 === 1) result *= square;
    square *= square;
  }
  return result;
}
