// The company's reasons as they are read: those of its own as it writes them, the usual ones in the reader's language.
import { words } from './words';

/** A reason in words. */
export function reasonText(reason: string): string {
  const usual: Partial<Record<string, string>> = words.why.usual;
  return Object.hasOwn(usual, reason) ? (usual[reason] ?? reason) : reason;
}
