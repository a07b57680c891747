// From which side this device looks at the stage.
import { useEffect, useState } from 'preact/hooks';
import type { Choices } from '../core/settings';
import type { Seen } from './plan-figure';

/** From which side this device looks. */
export function useSeen(choices: Choices): Seen {
  const [seen, setSeen] = useState(choices.now.seen);
  useEffect(() => choices.listen((settings) => setSeen(settings.seen)), [choices]);
  return seen;
}
