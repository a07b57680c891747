// Die Wörter für den Anfang einer Bühne und ihrer Bühnenbilder, auf Deutsch.
import type { SetWords } from './sets';

/** Diese Wörter. */
export const sets: SetWords = {
  noStage: 'Es gibt keinen Plan der Bühne. Wie nah Klingen, Kanten, Wände und Sitze sind, wird nicht geprüft.',
  begin: 'Eine schlichte Bühne anfangen',
  beginHint: 'Ein leerer Boden mit einer Kante vorn und einem Block Sitze. Dann miss deine und ändere, was anders ist.',
  notYours: 'Wer die Partituren ändern darf, kann auf dieser Seite eine anfangen.',
  begun:
    'Eine schlichte Bühne ist angefangen, in stage.toml. Die Kämpfe werden schon auf ihr geprüft: Miss deine und ändere sie.',
  there: 'Inzwischen gibt es einen Plan: Jemand anders hat ihn angefangen. Er ist hier offen, so wie er ist.',
  draw: 'Die Bühne zeichnen',
  newSet: 'Neues Bühnenbild …',
  newName: 'Wie das Bühnenbild heißt',
  newBegin: 'Bühnenbild anfangen',
  name: 'Name des Bühnenbilds',
  for: 'Für welche Kämpfe',
  forHint:
    'Ein Kampf ist in einem Bühnenbild zur Zeit. Wird mitten darin umgebaut, wähle die Phrase, vor der das geschieht.',
  from: (phrase: string) => `ab „${phrase}“`,
  phrasesOf: (fight: string) => `${fight}: ab einer Phrase`,
  onAnother: (what: string, set: string) => `${what} (im Bühnenbild ${set})`,
  unknown: (named: string) => `${named} (so einen Kampf gibt es nicht)`,
  drawNow: (set: string) => `Was du jetzt zeichnest, steht im Bühnenbild ${set}.`,
  takeAway: 'Dieses Bühnenbild wegnehmen',
};
