// run.mjs [BINARY]: all tests of the page in one browser; "N passed, N failed" and the exit code say
// how it went. TW_PROVE=1 runs the long counts. TW_ONLY=word runs tests whose name holds the word.
import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync } from 'node:fs';
import { join, resolve } from 'node:path';

if (process.argv[2]) {
  process.env.TW_BINARY = resolve(process.argv[2]);
}
const { allTests, clearWorkplaces, here, launch, root, Server } = await import('./lib.mjs');
if (!existsSync(join(root, 'web/node_modules/esbuild'))) {
  execFileSync('npm', ['ci', '--silent', '--no-audit', '--no-fund'], { cwd: join(root, 'web'), stdio: 'inherit' });
}
for (const file of readdirSync(here).filter((f) => f.endsWith('.test.mjs')).sort()) {
  await import(`./${file}`);
}
const only = process.env.TW_ONLY ?? '';
const browser = await launch();
let passed = 0;
const failed = [];
for (const { name, run } of allTests().filter((t) => t.name.includes(only))) {
  const began = Date.now();
  try {
    await run(browser);
    passed++;
    console.log(`ok    ${name} (${Date.now() - began} ms)`);
  } catch (error) {
    failed.push(name);
    console.log(`FAIL  ${name}\n      ${String(error?.stack ?? error).split('\n').slice(0, 6).join('\n      ')}`);
  }
  for (const server of [...Server.running]) {
    await server.kill();
  }
}
await browser.close();
clearWorkplaces();
console.log(`${passed} passed, ${failed.length} failed`);
process.exit(failed.length ? 1 : 0);
