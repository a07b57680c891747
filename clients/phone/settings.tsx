// This phone's own choices: click, vibration, part. Never on the screen while something counts.
import { useState } from 'preact/hooks';
import { signal } from '@preact/signals';
import { stayAwake } from '../core/awake';
import type { View } from '../core/model';
import type { Page } from '../core/page';
import { myRow } from '../core/reading';
import { words } from '../core/words';

const awake = signal(true);
const chosen = { sound: signal(false), shake: signal(false) };
stayAwake((lit) => {
  awake.value = lit;
});

/** The choices. */
export function Settings({ view, page }: { view: View; page: Page }) {
  const { senses } = page;
  return (
    <section class="settings">
      <h2>{words.settings}</h2>
      <Switch
        label={words.sound}
        on={chosen.sound.value}
        turn={(on) => {
          senses.sound(on);
          chosen.sound.value = on;
        }}
      />
      {senses.canShake ? (
        <Switch
          label={words.vibration}
          on={chosen.shake.value}
          turn={(on) => {
            senses.shake(on);
            chosen.shake.value = on;
          }}
        />
      ) : (
        <p>{words.noVibration}</p>
      )}
      {view.me?.role === 'performer' && <PartChoice view={view} page={page} />}
      {!awake.value && <p>{words.awakeNot}</p>}
      {!page.lasts && <p>{words.nothingKept}</p>}
    </section>
  );
}

function Switch({ label, on, turn }: { label: string; on: boolean; turn(on: boolean): void }) {
  return (
    <button type="button" role="switch" aria-checked={on} onClick={() => turn(!on)}>
      {label}: {on ? words.on : words.off}
    </button>
  );
}

function PartChoice({ view, page }: { view: View; page: Page }) {
  const [open, setOpen] = useState(false);
  const part = myRow(view)?.part ?? null;
  const fights = view.state?.fights ?? [];
  const fight = fights.find((each) => each.fight === view.state?.setup?.fight) ?? fights[0];
  if (!open) {
    return (
      <p class="row">
        <span>{part === null ? words.playNobody : words.youPlay(part)}</span>
        <button type="button" onClick={() => setOpen(true)}>
          {words.changePart}
        </button>
      </p>
    );
  }
  const take = (choice: string | null): void => {
    page.session.ask({ kind: 'take-part', member: null, part: choice });
    setOpen(false);
  };
  return (
    <div class="choices" role="group" aria-label={words.changePart}>
      {(fight?.fighters ?? []).map((fighter) => (
        <button type="button" key={fighter} aria-pressed={fighter === part} onClick={() => take(fighter)}>
          {fighter}
        </button>
      ))}
      <button type="button" aria-pressed={part === null} onClick={() => take(null)}>
        {words.noPart}
      </button>
      <button type="button" onClick={() => setOpen(false)}>
        {words.cancel}
      </button>
    </div>
  );
}
