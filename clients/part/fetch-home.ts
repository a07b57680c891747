// The file for home, asked for and kept.
import { ask } from '../core/asking';
import { words } from '../core/words';
import { keepFile } from '../ui/keep-file';

/** Keeps the file of a part, or of the whole cast, with all fights of the production. Throws a sentence for a person. */
export async function fetchHome(key: string, part: string | null): Promise<void> {
  await keepFile(await ask('part/home', key, { fight: null, part }, words.myPart.noAnswer));
}
