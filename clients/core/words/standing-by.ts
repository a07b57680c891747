// The words for who only stands by, beside those of every page.
import { withPart } from '.';
import { standingBy } from './en-standing-by';

/** The words, with these. */
export const words = withPart({ standingBy });
