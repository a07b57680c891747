// The words for who only stands by, in English.
import type { BesideView } from '../wire';

const SIDES: Record<BesideView, string> = {
  front: 'in front of you',
  right: 'on your right',
  behind: 'behind you',
  left: 'on your left',
  upstage: 'upstage of you',
  'stage-left': 'at stage left of you',
  downstage: 'downstage of you',
  'stage-right': 'at stage right of you',
};

const metres = (distance: number): string =>
  `${distance.toLocaleString('en', { minimumFractionDigits: 1, maximumFractionDigits: 1 })}\u00a0m`;

/** The words for who only stands by. */
export const standingBy = {
  name: 'What passes near you',
  passes: (by: string, action: string | null, distance: number, side: BesideView) =>
    action === null
      ? `${by} walks past, ${metres(distance)} from you, ${SIDES[side]}`
      : distance < 0.05
        ? `${by}’s ${action} reaches where you stand`
        : `${by}’s ${action} passes ${metres(distance)} from you, ${SIDES[side]}`,
  nothing: 'Nothing passes near you for now.',
  nothingAtAll: 'By the plan nothing passes near you in this run.',
  nearest: (count: number, phrase: string, beat: string, says: string) =>
    `${count === 1 ? 'Once something passes near you' : `${count} times something passes near you; nearest`}: “${phrase}”, beat ${beat}, ${says}.`,
  planned: 'Distances are planned, never sure: keep your eyes on the fight.',
  notWaitedFor: 'The run waits for those who fight, not for you: be on your mark.',
};
