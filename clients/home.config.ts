// The page for home is one file: its script and its style stand in it, since a page that is opened from a disk may load
// nothing beside it.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { build, type Plugin, type Rolldown } from 'vite';

/** Builds `home.html` beside the other pages, after them. */
export const home = (): Plugin => {
  let place = 'dist';
  return {
    name: 'home',
    apply: 'build',
    configResolved: ({ root, build: { outDir } }) => void (place = join(root, outDir)),
    async closeBundle() {
      const built = (await build({
        configFile: false,
        logLevel: 'warn',
        oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
        build: {
          target: 'es2022',
          write: false,
          modulePreload: { polyfill: false },
          cssCodeSplit: false,
          rolldownOptions: { input: 'home/main.tsx', output: { codeSplitting: false } },
        },
      })) as Rolldown.RolldownOutput;
      const script = built.output.find((each) => each.type === 'chunk');
      const styles = built.output.filter((each) => each.type === 'asset' && each.fileName.endsWith('.css'));
      const style = styles.map((each) => (each.type === 'asset' ? String(each.source) : '')).join('');
      // What would end the element is written so that it does not; a `$` is none of a replacement's.
      const code = (script?.type === 'chunk' ? script.code : '').replaceAll('</script', '<\\/script');
      const page = readFileSync('home.html', 'utf8')
        .replace('<script type="module" src="/home/main.tsx"></script>', () => `<script type="module">${code}</script>`)
        .replace('</head>', () => `<style>${style}</style></head>`);
      writeFileSync(join(place, 'home.html'), page);
    },
  };
};
