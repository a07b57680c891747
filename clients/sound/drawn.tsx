// What the sound page draws: the cues of a phrase, the trims, and how the outputs are.
import { useEffect, useState } from 'preact/hooks';
import { browser } from '../core/browser';
import type { Page } from '../core/page';
import { Trimmer } from '../core/sound';
import type { SoundAsk } from '../core/wire';
import { words } from '../core/words/sound';
import { NearMiss } from '../ui/near-miss';
import { Newcomers } from '../ui/newcomers';
import { Refusals } from '../ui/parts';
import { noStartBySpace } from '../ui/powers';
import { drawInto, follow } from '../ui/draw';
import { Cues } from './cues';
import { Mute, Outputs } from './outputs';
import { Sounds } from './sounds';

/** Asks the server for something that only this page asks. */
export type Ask = (ask: SoundAsk) => void;

/** Draws the page, and draws it anew whenever what it knows changes. */
export function draw(page: Page): void {
  noStartBySpace();
  const { session } = page;
  const ask: Ask = (what) => session.ask({ kind: 'sound', ask: what });
  const trimmer = new Trimmer(
    (ms, then) => void browser.after(ms, then),
    (sound, asked) => ask({ what: 'trim', sound, ...asked }),
  );
  let [sounds, refusals] = [session.view.sound.sounds, session.view.refusals];
  session.listen((view) => {
    if (view.sound.sounds !== sounds || view.refusals !== refusals) trimmer.told();
    [sounds, refusals] = [view.sound.sounds, view.refusals];
  });
  const view = follow(session);
  drawInto(page.place, () => <Whole page={page} view={view.value} ask={ask} trimmer={trimmer} />);
}

interface Props {
  page: Page;
  view: Page['session']['view'];
  ask: Ask;
  trimmer: Trimmer;
}

function Whole({ page: { session }, view, ask, trimmer }: Props) {
  const linked = view.link === 'linked' && view.me !== null;
  // On every new line the server has to be asked anew.
  useEffect(() => {
    if (linked) ask({ what: 'watch', on: true });
  }, [linked]);
  const [duringRun, setDuringRun] = useState(false);
  if (view.state === null) return null;
  const test = (sound: string, level_db: number): void => ask({ what: 'test', sound, level_db, during_run: duringRun });
  return (
    <>
      <Refusals view={view} session={session} />
      <Newcomers view={view} session={session} />
      {view.me?.role === 'desk' && <a href="/desk">{words.sounds.toDesk}</a>}
      <div class="sound-columns">
        <Mute now={view.sound.now} holdCall={view.state?.hold_call ?? false} ask={ask} />
        <div class="sound-main">
          <Cues session={session} view={view} linked={linked} ask={ask} test={test} />
          <label class="tick">
            <input
              type="checkbox"
              checked={duringRun}
              onChange={(event) => setDuringRun(event.currentTarget.checked)}
            />
            <span>{words.sounds.duringRun}</span>
          </label>
          <Sounds known={view.sound} trimmer={trimmer} test={test} />
          {view.state.stage !== 'held' && <NearMiss view={view} session={session} />}
        </div>
        <Outputs known={view.sound} troubles={view.troubles ?? []} ask={ask} />
      </div>
    </>
  );
}
