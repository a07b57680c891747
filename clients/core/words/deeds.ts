// The list of the desk's keys, beside the words of every page.
import { withPart } from '.';
import { deed, keyList } from './en-deeds';

/** The words, with these. */
export const words = withPart({ deed, ...keyList });
