// The words of the review page, beside those of every page.
import { withPart } from '.';
import { review } from './en-review';

/** The words, with these. */
export const words = withPart({ review });
