// A key of the desk beside what it does: seen, and told to a screen reader.
import { keys, keysOn, type Deed } from './keys';

/** A key's name on a button; nothing while the keys are off. */
export function Key({ of }: { of: Deed }) {
  return keysOn.value ? <kbd aria-hidden="true">{keys.value[of].toUpperCase()}</kbd> : null;
}

/** What a screen reader is told of it. */
export const shortcut = (of: Deed): string | undefined => (keysOn.value ? keys.value[of] : undefined);
