// The file for home: the part that stands in it, for reading, playing and asking. It asks no server for anything.
import '../ui/look.css';
import '../ui/parts.css';
import '../ui/figure.css';
import '../part/part.css';
import './home.css';
import { render } from 'preact';
import { useMemo, useState } from 'preact/hooks';
import { lastingStore } from '../core/browser';
import type { HomeFile } from '../core/wire';
import { words } from '../core/words/home';
import { Part } from '../part/my-part';
import type { Source } from '../part/source';
import { keepPictures } from '../ui/pictures';
import { useSignals } from '../ui/signal';

const page = document.getElementById('page');
if (page !== null) {
  carried()
    .then((file) => {
      for (const { lesson, pictures } of file.fights) keepPictures(lesson.sheet.pictures, pictures);
      page.replaceChildren();
      render(<Home file={file} />, page);
    })
    .catch((fault: unknown) => {
      console.error(fault);
      const said = document.createElement('p');
      said.className = 'bad';
      said.textContent = words.home.broken;
      // The words stay, for whoever has nothing else.
      page.prepend(said);
    });
}

/** What the file carries: JSON, packed by gzip, in base64. */
async function carried(): Promise<HomeFile> {
  const text = document.getElementById('part')?.textContent?.trim() ?? '';
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
  return JSON.parse(await new Response(stream).text()) as HomeFile;
}

function Home({ file }: { file: HomeFile }) {
  useSignals();
  const everybody = [
    ...new Set(file.fights.flatMap(({ lesson: { sheet } }) => [...sheet.fighters, ...sheet.bystanders])),
  ];
  const [part, setPart] = useState<string | null>(file.part);
  const source = useMemo(() => ofFile(file), [file]);
  const day = new Date(`${file.made}T12:00`).toLocaleDateString(undefined, { dateStyle: 'long' });
  const revisions = [...new Set(file.fights.map(({ lesson }) => lesson.sheet.revision))].join(', ');
  return (
    <>
      <h1 dir="auto">{part ?? words.home.nobody}</h1>
      <p dir="auto">{words.home.made(file.production, revisions, day)}</p>
      <p class="caution">{words.home.caution}</p>
      {file.mute && <p>{words.home.mute}</p>}
      {file.part === null && (
        <label>
          {words.home.whose}
          <select value={part ?? ''} onChange={(event) => setPart(event.currentTarget.value || null)}>
            <option value="">{words.home.nobody}</option>
            {everybody.map((name) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        </label>
      )}
      <div class="my-part">
        <Part key={part} source={source} part={part} first={null} />
      </div>
    </>
  );
}

function ofFile(file: HomeFile): Source {
  const fights = file.fights.map(({ lesson }) => ({
    fight: lesson.sheet.fight,
    fighters: lesson.sheet.fighters,
    bystanders: lesson.sheet.bystanders,
    drill: false,
  }));
  return {
    read: async (fight) => {
      const found = file.fights.find(({ lesson }) => lesson.sheet.fight === fight) ?? file.fights[0];
      return { fights, lesson: found?.lesson ?? null, since: null };
    },
    clips: async () => file.clips,
    takeHome: null,
    onThePlan: null,
    store: lastingStore().store,
    // Nothing happens here but what its reader does.
    interrupts: () => () => undefined,
  };
}
