// A part, or everybody's, as one file to take home.
import { useState } from 'preact/hooks';
import { words } from '../core/words';

/** The files: of this part, where it is somebody's, and of everybody. */
export function TakeHome({ takeHome, part }: { takeHome(part: string | null): Promise<void>; part: string | null }) {
  const [said, setSaid] = useState<string | null>(null);
  const take = (whose: string | null): void => {
    setSaid(null);
    takeHome(whose).catch((fault: unknown) => setSaid(fault instanceof Error ? fault.message : words.myPart.noAnswer));
  };
  return (
    <section class="take-home">
      <h2>{words.myPart.takeHomeTitle}</h2>
      <p>{words.myPart.takeHomeWhat}</p>
      <div class="choices">
        {part !== null && (
          <button type="button" onClick={() => take(part)}>
            {words.myPart.takeHome}
          </button>
        )}
        <button type="button" onClick={() => take(null)}>
          {words.myPart.takeHomeAll}
        </button>
      </div>
      {said !== null && (
        <p class="bad" role="alert">
          {said}
        </p>
      )}
    </section>
  );
}
