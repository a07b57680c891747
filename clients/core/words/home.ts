// The words of the file for home, beside those of every page.
import { withPart } from '.';
import { home } from './en-home';

/** The words, with these. */
export const words = withPart({ home });
