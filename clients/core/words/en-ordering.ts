// The words of changing tonight's order and casts at the desk, in English.

/** The words of changing tonight's order and casts. */
export const ordering = {
  empty: 'No order yet. Choose a fight below and add it, or take over what the review proposes.',
  add: (what: string) => `Add to the order: ${what}`,
  propose: 'Take over what the review proposes',
  proposing: 'The review is asked …',
  proposed: (count: number) =>
    count === 0 ? 'The review proposes nothing yet.' : `Taken over from the review: ${count}. What is done stays.`,
  noAnswer: 'The server does not answer. Try again.',
  change: 'Change',
  changeOf: (what: string) => `Change ${what}`,
  moveOf: (what: string) => `Move ${what}: arrow keys up and down`,
  earlier: 'Earlier',
  later: 'Later',
  tick: 'Done',
  again: 'To do again',
  takeOut: 'Take out',
  actOn: (act: string, what: string) => `${act}: ${what}`,
  from: 'From phrase',
  to: 'To phrase',
  speed: 'Speed (%)',
  walk: 'Move by move',
  castHint: 'One part each in a fight. The same person may play in another.',
  plays: (part: string, fight: string) => `${part} in ${fight}`,
  asUsual: (name: string | null) => (name === null ? 'nobody' : `${name}, as usual`),
  usually: (name: string) => `usually ${name}`,
  isAway: (name: string) => `${name} is absent`,
  covers: 'covers',
  away: 'absent',
  standsBy: 'stands by',
  putOn: (name: string, part: string, fights: number) =>
    fights > 1 ? `${name} plays ${part} in ${fights} fights` : `${name} plays ${part}`,
  nobodyCovers: 'Nobody on the list of covers is here.',
};
