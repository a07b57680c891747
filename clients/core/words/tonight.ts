// The words of tonight's whole order, beside those of every page.
import { withPart } from '.';
import { order } from './en-tonight';

/** The words, with these. */
export const words = withPart({ order });
