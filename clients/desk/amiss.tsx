// What is not as it should be, and nothing else: where all is well there is nothing to read.
import type { View } from '../core/model';
import { words } from '../core/words';
import { amiss } from './cast';

/** The exceptions. */
export function Amiss({ view }: { view: View }) {
  const lines = amiss(view);
  if (lines.length === 0) return null;
  return (
    <section class="amiss">
      <h2>{words.desk.amiss}</h2>
      <ul>
        {lines.map(({ text, told }) => (
          <li key={text} dir="auto" lang={told ? 'en' : undefined}>
            {text}
          </li>
        ))}
      </ul>
    </section>
  );
}
