// The words of changing tonight's order and casts, beside those of every page.
import { withPart } from '.';
import { ordering } from './en-ordering';
import { order } from './en-tonight';

/** The words, with these. */
export const words = withPart({ order, ordering });
