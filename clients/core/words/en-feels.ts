// The words of what a hand and an ear are told, in English.
import { plural } from './english';

/** The words of what a hand and an ear are told. */
export const feels = {
  minute: [
    'Nobody looks at a phone in a fight. It can shake against your body and speak into one ear. All of it is off until you switch it on.',
    'It shakes on the beat of your own act: one stroke, you attack; two, you reply; three short ones, you walk or act by yourself.',
    'A voice calls your next act before it is due: first what you do, then with whom.',
    'A hold is unlike all of it: three strokes, each longer than all of another pattern, and two long notes. Stand still.',
    'Keep the other ear free, because “hold” is called out loud. Go slowly with it first. It replaces neither your partner’s eyes nor the count you have learnt.',
  ],
  shakes: 'You feel',
  drawn:
    'The bars are strokes, drawn to scale. In a fast passage they are pressed together, so that they end before your next act.',
  name: {
    attack: 'You attack',
    reply: 'You reply',
    alone: 'You walk, or act by yourself',
    others: 'Others do something',
    beat: 'A beat',
    hold: 'A hold',
  },
  strokes: (strokes: number, ms: number) => `${plural(strokes, 'stroke', 'strokes')} of ${ms} ms`,
  try: 'Try',
  tryOf: (what: string) => `Try: ${what}`,
  calls: 'You hear called',
  callsEnd:
    'A call has ended before its act. Where there is no time for it, it is left out, and you are told how many were.',
  callOf: { reply: 'To reply', attack: 'To attack', alone: 'By yourself' },
  partner: 'Say also what the partner does',
  speaker: 'Voice',
  speakerAny: 'as the device chooses',
  speakerHint: 'The words are those of the score: choose a voice of its language.',
  rate: 'Speed of the voice',
  rateOf: { slow: 'slow', usual: 'usual', fast: 'fast' },
  clicks: 'You hear clicked',
  clickOf: { accent: 'First beat of a bar', beat: 'Every other beat' },
  noClick: 'This browser cannot click.',
  holdTry: 'Only this phone shakes and sounds. Nobody is held.',
};
