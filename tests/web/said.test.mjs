// What the command says beside its figures the page says too: the state of the whole probe, what a
// figure was computed for, what is not judged, why there is no delay; feeds are rounded to the side
// on which they still work.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { binary, cli, close, equal, holds, open, Server, settled, test, workplace } from './lib.mjs';

async function shown(browser, edit = (text) => text) {
  const { file } = workplace();
  writeFileSync(file, edit(readFileSync(file, 'utf8')));
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  return { file, page, end: async () => { await close(page); await server.stop(); } };
}

test('said: a pulse of the wrong sign is in the first lines', async (browser) => {
  const { file, page, end } = await shown(browser, (t) => t.replace('poling: plus', 'poling: minus'));
  const check = cli('check', '--json', file);
  equal(check.verdict.state, 'wrong_sign', 'state');
  equal(await page.locator('.ledger > .stale').first().textContent(), check.verdict.sentence, 'the same sentence');
  await end();
});

test('said: what a figure was computed for, and what is not judged', async (browser) => {
  const { file, page, end } = await shown(browser);
  const check = cli('check', '--json', file);
  equal(await page.locator('[data-measure="false_trip_margin_z"] .measure-note').textContent(),
        check.measures.false_trip_margin_z.note, 'the note of the margin');
  await page.locator('.not-judged > summary').click();
  equal(await page.locator('.not-judged dt').allTextContents().then((t) => t.join()), check.not_judged.map((n) => n.what).join(), 'what');
  equal(await page.locator('.not-judged dd').allTextContents().then((t) => t.join()), check.not_judged.map((n) => n.why).join(), 'why');
  await end();
});

test('said: feeds are rounded outward, and a delay that is unknown has a reason', async (browser) => {
  const feeds = 'feeds: [100 mm/min]';
  const { file, page, end } = await shown(browser, (t) => /^machine: \{/m.test(t) ? t.replace(/^machine: \{/m, `machine: {${feeds}, `)
    : /^machine:\n/m.test(t) ? t.replace(/^machine:\n/m, `machine:\n  ${feeds}\n`) : `${t}\nmachine: {${feeds}}\n`);
  await page.locator('#tab-feeds').click();
  const panel = page.locator('#panel-feeds');
  await panel.locator('dt, th', { hasText: 'slowest feed that trips' }).first().waitFor();
  const text = await panel.textContent();
  const printed = execFileSync(binary, ['touch', '--feeds', file], { encoding: 'utf8' });
  for (const key of [/slowest feed +([0-9.]+) mm/, /bound: ([0-9.]+) mm/, /fastest feed +([0-9.]+) mm/]) {
    const feed = key.exec(printed)[1];
    holds(text.includes(`${feed} mm/min`), `${feed} mm/min as the command prints it`);
  }
  const document = cli('touch', '--feeds', '--json', file);
  holds(document.apparent_delay_why.length > 10, 'there is a reason');
  holds(text.includes(document.apparent_delay_why), 'and the page says it');
  await end();
});
