// What this phone tells a hand and an ear, explained in a minute: every pattern with its drawing, every call and click, each
// to be tried. Only while nothing moves; whatever is called takes the screen.
import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { callsOf } from '../core/calls';
import { PATTERNS, lengthOf, type Pattern } from '../core/feel';
import type { DeviceSenses } from '../core/senses';
import type { Settings } from '../core/settings';
import type { DeviceVoice } from '../core/voice';
import type { CueMove } from '../core/wire';
import { words } from '../core/words/feels';
import { OneOf, Switch } from '../ui/choices';
import type { PhonePage } from './carried';
import { ClickChoice, ShakeChoice, VoiceChoice, type Chosen } from './sense-choices';

/** The page. */
export function Explained({ page, chosen }: { page: PhonePage; chosen: Settings }) {
  const { senses } = page;
  const choose = (part: Partial<Settings>): void => page.choices.choose(part);
  return (
    <>
      <ol>
        {words.feels.minute.map((sentence) => (
          <li key={sentence}>{sentence}</li>
        ))}
      </ol>
      <Shakes senses={senses} chosen={chosen} choose={choose} />
      <Calls senses={senses} chosen={chosen} choose={choose} />
      <Clicks senses={senses} chosen={chosen} choose={choose} />
      <section class="card">
        <h3>{words.hold}</h3>
        <Strokes pattern={PATTERNS.hold} />
        <Row name={words.feels.name.hold} says={strokes(PATTERNS.hold)} go={() => senses.tryHold()} />
        <p>{words.feels.holdTry}</p>
      </section>
    </>
  );
}

function Shakes({ senses, chosen, choose }: Chosen) {
  const { feels } = words;
  return (
    <section class="card">
      <h3>{feels.shakes}</h3>
      <p>{feels.drawn}</p>
      <ShakeChoice senses={senses} chosen={chosen} choose={choose} />
      {(['attack', 'reply', 'alone', 'others'] as const).map((feel) => (
        <div key={feel}>
          <Strokes pattern={PATTERNS[feel]} />
          <Row name={feels.name[feel]} says={strokes(PATTERNS[feel])} go={() => senses.tryFeel(feel)}>
            {senses.canShake && chosen.shake !== 'off' && (
              <Switch label={feels.name[feel]} on={chosen[feel]} turn={(on) => choose({ [feel]: on })} />
            )}
          </Row>
        </div>
      ))}
      <Strokes pattern={PATTERNS.beat} />
      <Row name={feels.name.beat} says={strokes(PATTERNS.beat)} go={() => senses.tryFeel('beat')} />
    </section>
  );
}

function strokes(pattern: Pattern): string {
  return words.feels.strokes((pattern.length + 1) / 2, pattern[0] ?? 0);
}

/** A move of the house's words, as a reader of each kind would have it called. */
const CALLED: { readonly [Of in 'reply' | 'attack' | 'alone']: CueMove } = {
  reply: called('answer', 'cut head', 'MARET', 'parry 5'),
  attack: called('act', 'thrust belly', 'MARET', 'parry 4'),
  alone: called('act', 'retire', null, null),
};

function Calls({ senses, chosen, choose }: Chosen) {
  const { feels } = words;
  const voices = useVoices(senses);
  if (!senses.voice.can) {
    return (
      <section class="card">
        <h3>{feels.calls}</h3>
        <VoiceChoice senses={senses} chosen={chosen} choose={choose} />
      </section>
    );
  }
  return (
    <section class="card">
      <h3>{feels.calls}</h3>
      <p>{feels.callsEnd}</p>
      <VoiceChoice senses={senses} chosen={chosen} choose={choose} />
      <Switch label={feels.partner} on={chosen.partner} turn={(partner) => choose({ partner })} />
      <OneOf label={feels.rate} names={feels.rateOf} chosen={chosen.rate} choose={(rate) => choose({ rate })} />
      <label>
        {feels.speaker}
        <select value={chosen.speaker} onChange={(event) => choose({ speaker: event.currentTarget.value })}>
          <option value="">{feels.speakerAny}</option>
          {[...languagesOf(voices)].map(([lang, names]) => (
            <optgroup key={lang} label={lang}>
              {names.map((name) => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </optgroup>
          ))}
        </select>
      </label>
      <p>{feels.speakerHint}</p>
      {(['reply', 'attack', 'alone'] as const).map((kind) => {
        const call = callsOf(CALLED[kind], chosen.partner)[0] ?? '';
        return (
          <Row key={kind} name={feels.callOf[kind]} says={<q lang="en">{call}</q>} go={() => senses.tryCall(call)} />
        );
      })}
    </section>
  );
}

function Clicks({ senses, chosen, choose }: Chosen) {
  const { feels } = words;
  return (
    <section class="card">
      <h3>{feels.clicks}</h3>
      {senses.canSound ? (
        <>
          <ClickChoice senses={senses} chosen={chosen} choose={choose} />
          {(['accent', 'beat'] as const).map((click) => (
            <Row key={click} name={feels.clickOf[click]} go={() => senses.tryClick(click)} />
          ))}
        </>
      ) : (
        <p>{feels.noClick}</p>
      )}
    </section>
  );
}

// The name, what there is to say of it, and the button that lets it be felt or heard.
function Row(props: { name: string; says?: ComponentChildren; go(): void; children?: ComponentChildren }) {
  return (
    <div class="tried">
      <p>
        <b>{props.name}</b>
        {props.says !== undefined && <small>{props.says}</small>}
      </p>
      <button type="button" aria-label={words.feels.tryOf(props.name)} onClick={props.go}>
        {words.feels.try}
      </button>
      {props.children}
    </div>
  );
}

/** All patterns are drawn to one scale, that of the longest. */
const LONGEST_MS = lengthOf(PATTERNS.hold);

function Strokes({ pattern }: { pattern: Pattern }) {
  let at = 0;
  const bars = pattern.map((length, n) => {
    const bar = { at, length, stroke: n % 2 === 0 };
    at += length;
    return bar;
  });
  return (
    <svg class="strokes" viewBox={`0 0 ${LONGEST_MS} 10`} preserveAspectRatio="none" aria-hidden="true">
      {bars
        .filter(({ stroke }) => stroke)
        .map((bar) => (
          <rect key={bar.at} x={bar.at} y="0" width={bar.length} height="10" />
        ))}
    </svg>
  );
}

// A device finds its voices when it likes.
function useVoices({ voice }: DeviceSenses): DeviceVoice[] {
  const [voices, setVoices] = useState(voice.all);
  useEffect(() => voice.listen(() => setVoices(voice.all)), [voice]);
  return voices;
}

function languagesOf(voices: DeviceVoice[]): Map<string, string[]> {
  const languages = new Map<string, string[]>();
  for (const { lang, name } of voices) languages.set(lang, [...(languages.get(lang) ?? []), name]);
  return languages;
}

function called(part: CueMove['part'], action: string, partner: string | null, reply: string | null): CueMove {
  const [who, to] = part === 'answer' ? [partner ?? '', 'OSK'] : ['OSK', partner];
  const when = { phrase: 0, number: 1, at_ticks: 0, beat: '1' };
  return { part, move: { ...when, who, action, to, reply, sounds: [], text: null, picture: null } };
}
