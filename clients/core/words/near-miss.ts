// The words of a report of a near miss, beside those of every page.
import { withPart } from '.';
import { nearMiss } from './en-near-miss';

/** The words, with these. */
export const words = withPart({ nearMiss });
