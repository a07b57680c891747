// The words of the sound page, beside those of every page.
import { withPart } from '.';
import { sounds } from './en-sound';

/** The words, with these. */
export const words = withPart({ sounds });
