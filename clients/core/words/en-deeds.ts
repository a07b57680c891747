// The list of the desk's keys, in English.

/** What can have a key. */
export const deed = {
  places: 'Call places',
  placesNext: 'Places for what is next tonight',
  restart: 'Places from the phrase that broke',
  restartMove: 'Places from the move that broke',
  start: 'Start',
  step: 'Step',
  stepBack: 'Step back',
  slower: 'Slower by 5 %',
  faster: 'Faster by 5 %',
  fromBack: 'From an earlier phrase',
  fromOn: 'From a later phrase',
  toBack: 'To an earlier phrase',
  toOn: 'To a later phrase',
  release: 'Release …',
  stop: 'Stop …',
  note: 'Write a note',
};

/** What the list says. */
export const keyList = {
  keysText:
    'They work while nobody types in a field. Esc is always HOLD. The space bar starts nothing, whatever is chosen here.',
  keysSwitch: 'Keys',
  keysPress: 'press a key',
  keysRefused: 'That key cannot be chosen. Take a letter, a digit or a sign.',
};
