// The bundle that the program is built with is the one that its source gives, and small enough.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { equal, holds, root, test } from './lib.mjs';

const embedded = join(root, 'web/embedded');

test('bundle: types hold', () => {
  execFileSync('npx', ['--no-install', 'tsc', '--noEmit'], { cwd: join(root, 'web'), stdio: 'pipe' });
});

test('bundle: web/embedded is what the source gives', () => {
  const out = mkdtempSync(join(tmpdir(), 'tripwright-bundle-'));
  execFileSync('node', ['build.mjs', out], { cwd: join(root, 'web'), stdio: 'pipe' });
  equal(readdirSync(out).sort().join(), readdirSync(embedded).sort().join(), 'files');
  for (const name of readdirSync(out)) {
    holds(readFileSync(join(out, name)).equals(readFileSync(join(embedded, name))), `${name} differs: run "npm run build -- embedded" in web/`);
  }
  rmSync(out, { recursive: true });
});

test('bundle: under 600 kB compressed, and nothing that ends a script early', () => {
  let size = 0;
  for (const name of readdirSync(embedded)) {
    size += gzipSync(readFileSync(join(embedded, name)), { level: 9 }).length;
  }
  console.log(`      ${(size / 1000).toFixed(0)} kB compressed`);
  holds(size < 600000, `${size} bytes`);
  holds(!/<\/script/i.test(readFileSync(join(embedded, 'page.js'), 'utf8')), 'page.js holds </script');
  holds(!/<\/style/i.test(readFileSync(join(embedded, 'page.css'), 'utf8')), 'page.css holds </style');
});

test('bundle: names no address to fetch from', () => {
  const text = readFileSync(join(embedded, 'page.js'), 'utf8') + readFileSync(join(embedded, 'page.css'), 'utf8');
  const addresses = [...text.matchAll(/https?:\/\/[\w.-]+/g)].map((m) => m[0]).filter((a) => !a.startsWith('http://www.w3.org'));
  const known = new Set(['https://echarts.apache.org']); // text of a message of the chart library
  equal(addresses.filter((a) => !known.has(a)).join(), '', 'addresses');
});
