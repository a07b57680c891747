// The page of a phone: what every page has, and what sounds and shakes.
import type { Page } from '../core/page';
import type { DeviceSenses } from '../core/senses';

/** It. */
export type PhonePage = Page & { senses: DeviceSenses };
