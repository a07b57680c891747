// The choice of loudspeakers. Looking for devices takes a moment, so it is done when somebody asks for it.
import { useState } from 'preact/hooks';
import type { SoundKnown } from '../core/sound';
import { words } from '../core/words/sound';
import type { Ask } from './drawn';

const RATES = [44_100, 48_000, 88_200, 96_000];
const BUFFERS = [128, 256, 512, 1_024, 2_048, 4_096, 8_192];

/** Device, rate and buffer. */
export function Device({ known, ask }: { known: SoundKnown; ask: Ask }) {
  const [device, setDevice] = useState<string | null>(null);
  const [rate, setRate] = useState<number | null>(null);
  const [buffer, setBuffer] = useState<number | null>(null);
  const chosen = known.devices?.chosen ?? '';
  const names = known.devices?.names ?? [];
  const all = chosen === '' || names.includes(chosen) ? names : [chosen, ...names];
  const named = device ?? chosen;
  return (
    <details onToggle={(event) => event.currentTarget.open && ask({ what: 'devices' })}>
      <summary>{words.sounds.deviceTitle}</summary>
      <div class="devices">
        <label>
          {words.sounds.device}
          <select value={named} onChange={(event) => setDevice(event.currentTarget.value)}>
            <option value="">{words.sounds.deviceOwn}</option>
            {all.map((name) => (
              <option key={name} value={name}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <Figures label={words.sounds.rate} figures={RATES} value={rate} change={setRate} />
        <Figures label={words.sounds.buffer} figures={BUFFERS} value={buffer} change={setBuffer} />
        <button type="button" onClick={() => ask({ what: 'devices' })}>
          {words.sounds.deviceLook}
        </button>
        <button
          type="button"
          class="main"
          disabled={known.devices === null}
          onClick={() => ask({ what: 'choose', device: named === '' ? null : named, rate, buffer_frames: buffer })}
        >
          {words.sounds.deviceUse}
          <small>{words.sounds.deviceKept}</small>
        </button>
      </div>
    </details>
  );
}

function Figures(props: {
  label: string;
  figures: number[];
  value: number | null;
  change(value: number | null): void;
}) {
  const take = (text: string): void => props.change(text === '' ? null : Number(text));
  return (
    <label>
      {props.label}
      <select value={props.value ?? ''} onChange={(event) => take(event.currentTarget.value)}>
        <option value="">{words.sounds.usual}</option>
        {props.figures.map((figure) => (
          <option key={figure} value={figure}>
            {figure}
          </option>
        ))}
      </select>
    </label>
  );
}
