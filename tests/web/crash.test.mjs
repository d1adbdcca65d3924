// The crash: the page draws and tells what the program computes, also where parts fail.
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { cli, close, equal, holds, open, root, Server, settled, test, workplace } from './lib.mjs';

async function crashView(browser, example) {
  const { file } = workplace();
  copyFileSync(join(root, `examples/${example}.yaml`), file);
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await page.locator('#tab-crash').click();
  await page.locator('.crash-one canvas').first().waitFor();
  return { server, page, told: cli('touch', file, '--crash', '--json') };
}

const cells = (page, caption) => page.getByRole('region', { name: caption, exact: true }).locator('tbody tr').evaluateAll((rows) =>
  rows.map((r) => [...r.children].map((c) => c.textContent)));

/** the first three digits of a shown figure against the number behind it, prefix or not */
function same(shown, value, what) {
  const digits = (text) => text.replace(/[^\d.]/g, '').replace('.', '').replace(/^0+/, '').slice(0, 3);
  equal(digits(shown), digits(value.toPrecision(3).replace(/e.*/, '')), `${what} ${shown}`);
}

test('crash: every stage and part stands in a table as the program tells it, beside its picture', async (browser) => {
  const { server, page, told } = await crashView(browser, 'pillar-indexer');
  equal(await page.locator('.crash-one').count(), 2, 'directions');
  for (const way of told.directions) {
    const stages = await cells(page, `${way.name}: what gives way`);
    equal(stages.map((r) => r[0]).join(), way.stages.map((s) => s.name).join(), 'stages');
    stages.forEach((row, i) => {
      const s = way.stages[i];
      s.gives_at > 1e-9 ? same(row[1], s.gives_at, s.name) : equal(row[1], '0', s.name);
      same(row[5], s.travel, s.name);
      same(row[6], s.energy, s.name);
      s.limit === null ? equal(row[3], '–', s.name) : same(row[3], s.limit_force, s.name);
    });
    const members = await cells(page, `${way.name}: what may break`);
    equal(members.map((r) => r[0]).join(), way.members.map((m) => m.name).join(), 'parts');
    members.forEach((row, i) => {
      const m = way.members[i];
      same(row[1], m.load, m.name);
      same(row[3], m.allowable, m.name);
      equal(row[4], `${Math.round(100 * m.ratio)} %`, m.name);
      m.fails_at_force === null ? equal(row[5], '–', m.name) : same(row[5], m.fails_at_force, m.name);
    });
    const labelled = await page.getByRole('img', { name: new RegExp(`^${way.name}: force`) }).boundingBox();
    holds(labelled.height > 300, 'the picture is there');
  }
  await close(page);
  await server.stop();
});

test('crash: what fails is said in words, with what the machine overruns', async (browser) => {
  const { server, page, told } = await crashView(browser, 'edge-bonded');
  const axis = told.directions[1];
  equal(axis.first_to_fail, 'ceramic', 'the example still fails there');
  const text = await page.locator('.crash-one').nth(1).locator('p').first().textContent();
  holds(/^Ceramic fails first, at 4\.56\sN/.test(text), text);
  holds(axis.travel_left.value < 0 && text.includes('too far'), text);
  holds((await cells(page, 'along the axis: what may break')).every((r) => r[4].includes('fails')), 'marked in the table, not by colour alone');
  await close(page);
  await server.stop();
});

test('crash: a change moves the picture’s figures', async (browser) => {
  const { server, page } = await crashView(browser, 'pillar-indexer');
  const before = await cells(page, 'sideways: what may break');
  await page.locator('#tab-section').click();
  const { change } = await import('./lib.mjs');
  await change(page, 'housing.travel_side', '40 mm');
  await page.locator('#tab-crash').click();
  await page.waitForFunction((old) => ![...document.querySelectorAll('.crash-one td')].some((c) => c.textContent === old), before[1][2]);
  const after = await cells(page, 'sideways: what may break');
  holds(after[1][4].includes('fails'), `the thread fails within 40 mm: ${after[1]}`);
  await close(page);
  await server.stop();
});
