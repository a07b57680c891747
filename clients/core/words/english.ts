// How English counts.
import { counting } from './counting';

const counted = counting('en');

/** So many of something. */
export const plural = (count: number, one: string, many: string): string => counted(count, { one, other: many });
