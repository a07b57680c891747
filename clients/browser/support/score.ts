// A score for tests that look at beats: a move on every one, attack and reply changing sides.

/** The worst that a score can do to a screen and to a scheduler. */
export function score(bpm: number, beats: number): string {
  const rows = Array.from({ length: beats }, (_, beat) => {
    const [one, other] = beat % 2 === 0 ? ['ALDER', 'BRYONY'] : ['BRYONY', 'ALDER'];
    return `  ${beat + 1}  ${one}  thrust belly / ${other}  parry 4`;
  });
  const head = ['fight "Every beat"', 'beats 4', `tempo ${bpm}`, '', 'fighters', '  ALDER rapier right'];
  return [...head, '  BRYONY rapier right', '', 'phrase "All of it"', ...rows, ''].join('\n');
}
