// build.mjs [OUT]: bundle the page into OUT (default: dist). The same source gives the same bytes;
// web/embedded holds the bundle that the program is built with, and a test compares the two.
import { build } from 'esbuild';
import { copyFileSync, mkdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2] ?? join(here, 'dist');
mkdirSync(out, { recursive: true });
const common = {
  absWorkingDir: here,
  bundle: true,
  minify: true,
  target: 'es2020',
  charset: 'utf8',
  legalComments: 'none',
  logLevel: 'warning',
};
await build({ ...common, entryPoints: ['src/page.ts'], format: 'iife', outfile: join(out, 'page.js') });
await build({ ...common, entryPoints: ['src/page.css'], outfile: join(out, 'page.css') });
await build({ ...common, entryPoints: ['src/drawing.css'], outfile: join(out, 'drawing.css') });
for (const name of ['page.html', 'icon.svg']) {
  copyFileSync(join(here, 'src', name), join(out, name));
}
