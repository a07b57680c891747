// The words of the plan of the stage, beside those of every page.
import { withPart } from '.';
import { plan } from './en-plan';

/** The words, with these. */
export const words = withPart({ plan });
