// The words of the file for home, in English.

/** The words of the file for home. */
export const home = {
  made: (production: string, revision: string, day: string) => `${production}. Revision ${revision}, made on ${day}.`,
  caution:
    'For learning alone, of a fight that a fight director leads. This file hears no HOLD and knows no changes: what the director says in the room goes before it. Mark it slowly, with empty hands, where you have room.',
  whose: 'Whose part?',
  nobody: 'The whole fight',
  mute: 'The sounds were left out, so that the file is small enough for a mail.',
  broken: 'What this file carries cannot be read here. Ask for a new one, or open it in a newer browser.',
};
