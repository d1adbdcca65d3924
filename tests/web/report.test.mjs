// The report: one file that opens from disk, asks nothing of any network, says nothing on the
// console, and prints with its cautions on the first page.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { binary, cli, close, equal, example, holds, open, openReport, Server, settled, shotFolder, test, workplace } from './lib.mjs';

function make(folder, file, ...more) {
  const out = join(folder, 'report.html');
  execFileSync(binary, ['report', file, '-o', out, ...more], { stdio: 'pipe' });
  return out;
}

test('report: opens from disk without network or console message, with the figures of check', async (browser) => {
  const { folder, file } = workplace();
  const page = await openReport(browser, make(folder, file));
  const expected = cli('check', file, '--json').measures.trip_force_side.value;
  equal(await page.locator('[data-measure="trip_force_side"] .measure-value .number').textContent(), expected.toPrecision(3), 'figure');
  equal(page.asked.join(), '', 'requests');
  holds((await page.locator('.drawing .part').count()) >= 10, 'the drawing is there');
  for (const id of ['directions', 'signal', 'disc']) {
    holds(await page.locator(`.view-${id} h2`).isVisible(), id);
  }
  holds((await page.locator('.inputs tr').count()) > 60, 'inputs with their origins');
  await page.screenshot({ path: join(shotFolder(), 'report.png'), fullPage: true });
  await close(page);
});

test('report: on a phone and by night nothing is too wide', async (browser) => {
  const { folder, file } = workplace();
  const page = await openReport(browser, make(folder, file), { viewport: { width: 390, height: 844 }, colorScheme: 'dark' });
  equal(await page.evaluate(() => Math.max(0, document.scrollingElement.scrollWidth - innerWidth)), 0, 'too wide by');
  await close(page);
});

for (const format of ['A4', 'Letter']) {
  test(`report: prints on ${format}, cautions on the first page`, async (browser) => {
    const { folder, file } = workplace();
    const page = await openReport(browser, make(folder, file));
    const pdf = await page.pdf({ format, path: join(shotFolder(), `report-${format}.pdf`) });
    holds(pdf.length > 50000, 'a document');
    await page.emulateMedia({ media: 'print' });
    const mm = format === 'A4' ? [210, 297] : [215.9, 279.4];
    await page.setViewportSize({ width: Math.floor(((mm[0] - 28) * 96) / 25.4), height: 1000 });
    const bottom = await page.locator('.cautions').evaluate((e) => e.getBoundingClientRect().bottom + scrollY);
    holds(bottom < ((mm[1] - 28) * 96) / 25.4, `cautions end at ${bottom} px`);
    equal(await page.evaluate(() => Math.max(0, document.scrollingElement.scrollWidth - innerWidth)), 0, 'too wide by');
    const paper = await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
    equal(paper, 'rgb(255, 255, 255)', 'white paper');
    await close(page);
  });
}

test('report: a name cannot end the script it stands in', async (browser) => {
  const { folder, file } = workplace();
  writeFileSync(file, readFileSync(file, 'utf8').replace(/^design: .*$/m, 'design: "</script><script>document.title=1</script><!--"'));
  const page = await openReport(browser, make(folder, file));
  equal(await page.locator('.report-head h1').textContent(), '</script><script>document.title=1</script><!--', 'the name as text');
  await close(page);
});

test('report: the page makes the same report', async (browser) => {
  const { folder, file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: 'Report' }).click();
  const text = readFileSync(await (await download).path(), 'utf8');
  const data = (t) => JSON.parse(/id="report-data">(.*?)<\/script>/s.exec(t)[1]);
  const mine = data(text), theirs = data(readFileSync(make(folder, file), 'utf8'));
  equal(JSON.stringify(mine.evaluate.check), JSON.stringify(theirs.evaluate.check), 'figures');
  await close(page);
  await server.stop();
});

test('report: pictures by name at 1:1 carry a 50 mm line', () => {
  for (const name of ['foam-ring', 'gasket', 'drilling-template']) {
    const svg = execFileSync(binary, ['report', example, '--svg', name, '--scale', '1:1'], { encoding: 'utf8' });
    const [, x1, x2] = /M([\d.]+) [\d.]+L([\d.]+) [\d.]+"\/>\n<path[^>]*\/>\n<path[^>]*\/>\n<text[^>]*>must measure/.exec(svg);
    equal(Math.round((x2 - x1) * 1000) / 1000, 50, name);
    const [, width, unit, box] = /width="([\d.]+)(mm)" height="[\d.]+mm" viewBox="0 0 ([\d.]+) /.exec(svg);
    equal(`${width}${unit}`, `${box}mm`, `${name}: a unit is a millimetre`);
  }
});
