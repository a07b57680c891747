// The words of what a hand and an ear are told, beside those of every page.
import { withPart } from '.';
import { feels } from './en-feels';

/** The words, with these. */
export const words = withPart({ feels });
