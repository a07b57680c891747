// The words of beginning a stage and its sets, in English.

/** The words of beginning a stage and its sets. */
export const sets = {
  noStage: 'There is no plan of the stage. How near blades, edges, walls and seats are is not checked.',
  begin: 'Begin a plain stage',
  beginHint: 'A bare floor with an edge in front and one block of seats. Then measure yours, and change what differs.',
  notYours: 'Whoever may change the scores can begin one on this page.',
  begun: 'A plain stage is begun, in stage.toml. The fights are checked on it already: measure yours, and change it.',
  there: 'There is a plan by now: somebody else has begun it. It is open here, as it is.',
  draw: 'Draw the stage',
  newSet: 'New set …',
  newName: 'What the set is called',
  newBegin: 'Begin the set',
  name: 'Name of the set',
  for: 'For which fights',
  forHint:
    'A fight is on one set at a time. Where the scene changes in the middle of one, choose the phrase before which it does.',
  from: (phrase: string) => `from “${phrase}” on`,
  phrasesOf: (fight: string) => `${fight}: from a phrase on`,
  onAnother: (what: string, set: string) => `${what} (on the set ${set})`,
  unknown: (named: string) => `${named} (there is no such fight)`,
  drawNow: (set: string) => `What you draw now stands on the set ${set}.`,
  takeAway: 'Take this set away',
};
