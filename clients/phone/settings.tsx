// This phone's own choices: what it sounds, says and shakes, how it looks, whose part. Never on the screen while
// something counts.
import { useEffect, useState } from 'preact/hooks';
import { signal } from '../ui/signal';
import { stayAwake } from '../core/awake';
import { triable, type View } from '../core/model';
import type { Settings as Chosen } from '../core/settings';
import { words } from '../core/words';
import { LanguageChoice } from '../ui/tell-language';
import { OneOf } from '../ui/choices';
import { Fold } from '../ui/later';
import type { PhonePage } from './carried';
import { ClickChoice, ShakeChoice, VoiceChoice } from './sense-choices';

const awake = signal(false);
stayAwake((lit) => {
  awake.value = lit;
});

/** The choices. */
export function Settings({ view, page }: { view: View; page: PhonePage }) {
  const { senses, choices } = page;
  const [chosen, setChosen] = useState(choices.now);
  useEffect(() => choices.listen(setChosen), [choices]);
  const choose = (part: Partial<Chosen>): void => choices.choose(part);
  return (
    <section class="settings">
      <h2>{words.settings}</h2>
      {view.me?.role === 'performer' && <PartChoice view={view} page={page} />}
      {triable(view) && (
        <Fold class="feels" summary={words.howItFeels} load={() => import('./how-it-feels')}>
          {({ Explained }) => <Explained page={page} chosen={chosen} />}
        </Fold>
      )}
      {senses.callsLeftOut > 0 && <p role="status">{words.callsLeftOut(senses.callsLeftOut)}</p>}
      <ClickChoice {...{ senses, chosen, choose }} />
      {senses.sleeps && <p>{words.soundSleeps}</p>}
      <VoiceChoice {...{ senses, chosen, choose }} />
      <ShakeChoice {...{ senses, chosen, choose }} />
      <OneOf label={words.holdHere} names={words.holdHereOf} chosen={chosen.hold} choose={(hold) => choose({ hold })} />
      {senses.holdSleeps && <p>{words.holdSleeps}</p>}
      <OneOf label={words.hand} names={words.handOf} chosen={chosen.hand} choose={(hand) => choose({ hand })} />
      <OneOf label={words.text} names={words.textOf} chosen={chosen.text} choose={(text) => choose({ text })} />
      <OneOf label={words.light} names={words.lightOf} chosen={chosen.light} choose={(light) => choose({ light })} />
      <LanguageChoice choices={choices} />
      <OneOf
        label={words.holdLook}
        names={words.holdLookOf}
        chosen={chosen.holdLook}
        choose={(holdLook) => choose({ holdLook })}
      />
      <p>{awake.value ? words.awake : words.awakeNot}</p>
      {!awake.value && !window.isSecureContext && <p>{words.awakeSecure}</p>}
      {!page.lasts && <p>{words.nothingKept}</p>}
    </section>
  );
}

function PartChoice({ view, page }: { view: View; page: PhonePage }) {
  const [open, setOpen] = useState(false);
  const part = view.me?.part ?? null;
  const fighters = view.run?.fighters ?? view.fights?.[0]?.fighters ?? [];
  const { session } = page;
  // Where no run is set up, the fights say which parts there are; they are told only while somebody chooses.
  useEffect(() => (open ? session.show(['fights']) : undefined), [open, session]);
  if (!open) {
    return (
      <p class="row">
        <span dir="auto">{part === null ? words.playNobody : words.youPlay(part)}</span>
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
      {fighters.map((fighter) => (
        <button type="button" key={fighter} aria-pressed={fighter === part} dir="auto" onClick={() => take(fighter)}>
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
