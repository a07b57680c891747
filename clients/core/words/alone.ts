// The words of a part that is read, played and asked alone, beside those of every page.
import { withPart } from '.';
import { alone } from './en-alone';

/** The words, with these. */
export const words = withPart({ alone });
