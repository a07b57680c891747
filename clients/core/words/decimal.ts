// A number as the language of the page writes it.
import { words } from '.';

/** `value` with so many decimals. */
export function decimal(value: number, decimals: number): string {
  const digits = { minimumFractionDigits: decimals, maximumFractionDigits: decimals, useGrouping: false };
  return new Intl.NumberFormat(words.tag, digits).format(value);
}
