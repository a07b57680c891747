// What is chosen of click, voice and shaking: among the choices of the phone, and where each is explained and tried.
import type { DeviceSenses } from '../core/senses';
import type { Settings } from '../core/settings';
import { words } from '../core/words';
import { OneOf, Switch } from '../ui/choices';

/** A choice: what is chosen, and how to choose otherwise. */
export interface Chosen {
  senses: DeviceSenses;
  chosen: Settings;
  choose(part: Partial<Settings>): void;
}

/** The click. */
export function ClickChoice({ chosen, choose }: Chosen) {
  return <Switch label={words.sound} on={chosen.click} turn={(click) => choose({ click })} />;
}

/** Spoken calls, where this browser speaks. */
export function VoiceChoice({ senses, chosen, choose }: Chosen) {
  if (!senses.voice.can) return <p>{words.noVoice}</p>;
  return <Switch label={words.voice} on={chosen.voice} turn={(voice) => choose({ voice })} />;
}

/** Shaking, where this phone can. */
export function ShakeChoice({ senses, chosen, choose }: Chosen) {
  if (!senses.canShake) return <p>{words.noVibration}</p>;
  return (
    <OneOf
      label={words.vibration}
      names={words.vibrationOf}
      chosen={chosen.shake}
      choose={(shake) => choose({ shake })}
    />
  );
}
