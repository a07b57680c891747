// The words of the score page, beside those of every page.
import { withPart } from '.';
import { score } from './en-score';

/** The words, with these. */
export const words = withPart({ score });
