// The words of a report of a near miss, in English.

/** The words of a report of a near miss. */
export const nearMiss = {
  open: 'Report a near miss …',
  title: 'What nearly went wrong?',
  holdFirst: 'If it is still dangerous, HOLD comes first.',
  phrase: 'Where',
  nowhere: 'I do not know, or not in the fight',
  move: 'Move',
  moveOf: (beat: string, words: string) => `beat ${beat}: ${words}`,
  why: 'Why',
  note: 'Note',
  noteHint: 'What you saw',
  withName: 'With my name',
  named: 'Your name goes with it.',
  unnamed: 'No name is kept with it. In a small company people may still guess who it was.',
  send: 'Report it',
  taken: (named: boolean) =>
    named ? 'Reported, with your name. The desk reads it.' : 'Reported, without a name. The desk reads it.',
  nameless: 'without a name',
};
