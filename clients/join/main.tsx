// The join page: an invitation in the address, a name, a part, in. The secret stands after the #, so that no server log
// and no referrer ever sees it.
import { render } from 'preact';
import { useState } from 'preact/hooks';
import { browser, dialHome, lastingStore, onWake, tabStore } from '../core/browser';
import type { Link } from '../core/connection';
import { Joining, type Step } from '../core/joining';
import { Keys } from '../core/keys';
import { takeOwnLanguage } from '../core/language';
import { Choices } from '../core/settings';
import { words } from '../core/words';
import { enter } from '../ui/enter';
import { signal, useSignals } from '../ui/signal';
import { LanguageChoice } from '../ui/tell-language';
import { Choose } from './choose';

const { store, lasts } = lastingStore();
const choices = new Choices(store);
const keys = new Keys(store, tabStore());
const invitation = location.hash.slice(1);
const step = signal<Step>({ step: 'looking' });
const link = signal<Link>('connecting');
const known = keys.from(invitation);

const joining = new Joining(browser, dialHome, invitation, (now, line) => {
  step.value = now;
  link.value = line;
  if (now.step !== 'joined') return;
  keys.keep(now.entry);
  enter(keys, now.entry);
});

function Join() {
  useSignals();
  const [anew, setAnew] = useState(known === null);
  if (known !== null && !anew) {
    return (
      <>
        <h1>{known.production}</h1>
        <button type="button" class="main" onClick={() => enter(keys, known)}>
          {words.goOnAs(known.name, words.role[known.role])}
        </button>
        <button type="button" onClick={() => (setAnew(true), joining.start())}>
          {words.somebodyElse}
        </button>
        <Safety />
      </>
    );
  }
  return <Asking />;
}

function Asking() {
  const now = step.value;
  switch (now.step) {
    case 'looking':
    case 'joined':
      return (
        <p class="lead" role="status">
          {now.step === 'looking' ? words.looking : words.joining} {link.value === 'lost' && words.link.lost}
        </p>
      );
    case 'refused':
      return (
        <div role="alert">
          <h1>{words.joinRefused}</h1>
          <p class="lead" lang={now.reason === words.noSecret ? undefined : 'en'}>
            {now.reason}
          </p>
        </div>
      );
    case 'choosing':
    case 'joining':
      return (
        <>
          <Choose
            production={now.production}
            role={now.role}
            parts={now.parts}
            reason={now.step === 'choosing' ? now.reason : null}
            busy={now.step === 'joining' || link.value !== 'linked'}
            join={(name, part) => joining.join(name, part)}
          />
          {!lasts && <p>{words.nothingKept}</p>}
          <Safety />
        </>
      );
  }
}

function Safety() {
  return (
    <section>
      <h2>{words.safetyTitle}</h2>
      <ul>
        {words.safety.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ul>
      <LanguageChoice choices={choices} />
    </section>
  );
}

if (known === null && invitation !== '') joining.start();
onWake(() => {
  if (invitation !== '' && known === null) joining.wake();
});
// Another code scanned into the same tab is another invitation.
window.addEventListener('hashchange', () => location.reload());
const place = document.getElementById('page');
void takeOwnLanguage(choices).then(() => {
  if (invitation === '') step.value = { step: 'refused', reason: words.noSecret };
  if (place !== null) render(<Join />, place);
});
