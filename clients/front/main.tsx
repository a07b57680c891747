// The front page: what this is, and a way back in for whoever has been in.
import { render } from 'preact';
import { lastingStore, tabStore } from '../core/browser';
import { Keys } from '../core/keys';
import { takeOwnLanguage } from '../core/language';
import { Choices } from '../core/settings';
import { words } from '../core/words';
import { enter } from '../ui/enter';
import { LanguageChoice } from '../ui/tell-language';

const { store } = lastingStore();
const choices = new Choices(store);

function Front() {
  const keys = new Keys(store, tabStore());
  return (
    <>
      <h1>{words.name}</h1>
      <p class="lead">{words.what}</p>
      <p>{words.askForLink}</p>
      {keys.all().map((entry) => (
        <button type="button" key={entry.key} onClick={() => enter(keys, entry)}>
          {words.goOnAs(entry.name, words.role[entry.role])}
          <small>{entry.production}</small>
        </button>
      ))}
      <LanguageChoice choices={choices} />
    </>
  );
}

const place = document.getElementById('page');
if (place !== null) void takeOwnLanguage(choices).then(() => render(<Front />, place));
