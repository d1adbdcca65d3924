// The studies on the page: the figures of the command line, live while they grow, stopped with what
// is done kept, tried as unsaved edits, in the report, on every width by day and by night.
import { readFileSync, writeFileSync } from 'node:fs';
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { binary, change, cli, close, equal, holds, open, openReport, Server, settled, shotFolder, test, workplace } from './lib.mjs';
import { faults, serious } from './looks.mjs';

/** the example with its void used up: it never trips sideways */
function deafen(text) {
  const deaf = text.replace(/void_depth: 60 um[^,}\n]*/, 'void_depth: 3 um');
  holds(deaf !== text, 'the example has a void');
  return deaf;
}

/** open a study's tab and answer its questions */
async function study(page, id, answers = {}) {
  await page.locator(`#tab-${id}`).click();
  const panel = page.locator(`#panel-${id}`);
  await panel.locator('.study-form button').first().waitFor();
  for (const [name, value] of Object.entries(answers)) {
    const input = panel.locator(`[name="${name}"]`);
    const kind = await input.evaluate((e) => {
      e.closest('details')?.setAttribute('open', '');
      return e.tagName === 'SELECT' ? 'select' : e.type;
    });
    if (kind === 'select') {
      await input.selectOption(value);
    } else if (kind === 'checkbox') {
      await input.setChecked(value !== '');
    } else {
      await input.fill(value);
      await input.blur();
    }
  }
  return panel;
}

const ended = (page, id) => page.waitForFunction((v) => document.querySelector(`#panel-${v} .view`).getAttribute('aria-busy') === 'false', id, { timeout: 60000 });

/** run it and give back the document that the page was sent */
async function run(page, id, answers) {
  const panel = await study(page, id, answers);
  const jobs = new Set();
  const done = page.waitForResponse(async (r) => {
    const url = new URL(r.url());
    const asked = r.request().method() === 'POST' ? r.request().postDataJSON() : null;
    if (url.pathname === '/api/job' && asked?.view === id) {
      jobs.add(String((await r.json()).job));
    }
    return url.pathname === '/api/job' && r.request().method() === 'GET' && r.status() === 200 && jobs.has(url.searchParams.get('number'));
  }, { timeout: 60000 });
  await panel.locator('button[type=submit]').click();
  const document = await (await done).json();
  await ended(page, id);
  return [panel, document];
}

/** the page's document but for what only the page is told; the file's path is that of the server */
function plain(document) {
  const { left_out, ...rest } = document;
  return JSON.stringify(rest);
}

async function asked(browser, options = {}) {
  const { folder, file } = workplace();
  const { deaf, change: reworked = deaf ? deafen : null, ...context } = options;
  if (reworked) {
    writeFileSync(file, reworked(readFileSync(file, 'utf8')));
  }
  const server = await Server.start(file);
  const page = await open(browser, server.address, context);
  await settled(page);
  return { folder, file, server, page, end: async () => { await close(page); await server.stop(); } };
}

/** equal, or where they begin to differ: whole documents are too long to be read */
function same(text, expected, what) {
  if (text !== expected) {
    let at = 0;
    while (text[at] === expected[at]) {
      at++;
    }
    throw new Error(`${what}: …${text.slice(Math.max(0, at - 60), at + 60)}…, expected …${expected.slice(Math.max(0, at - 60), at + 60)}…`);
  }
}

for (const [id, answers, args] of [
  ['spread', { builds: '60', seed: '7' }, ['--builds', '60', '--seed', '7']],
  ['spread', { builds: '60', fast: 'yes' }, ['--builds', '60', '--fast']],
  ['drivers', {}, []],
  ['drivers', { global: '16' }, ['--global', '16']],
  ['vary', { field: 'stylus.reach', from: '25 mm', to: '45 mm', points: '6' }, ['--field', 'stylus.reach=25..45mm', '--points', '6']],
  ['vary', { field: 'preload.force', from: '0.5', to: '1.5 N', field2: 'seat.flat_radius', from2: '2.5 mm', to2: '3.8 mm', points: '4' },
    ['--field', 'preload.force=0.5..1.5N', '--field', 'seat.flat_radius=2.5..3.8mm', '--points', '4']],
]) {
  test(`study: ${id} gives exactly the figures of the command line (${JSON.stringify(answers)})`, async (browser) => {
    const { file, page, end } = await asked(browser);
    const [panel, document] = await run(page, id, answers);
    same(plain(document), plain(cli(id, file, '--json', ...args)), 'document');
    holds((await panel.locator('.study-command code').textContent()).startsWith(`tripwright ${id} `), 'and says how to get them there');
    await end();
  });
}

/** a trimmer at the reference, and rapids that ask for it */
function trimmed(text) {
  return text.replace('false_trip_margin_z: ">= 2"', 'false_trip_margin_z: ">= 7"').replace('supply: 3.3 V ± 2 %', 'supply: 3.3 V')
    .replace('bias_resistance: 1 Mohm', 'bias_resistance: 1 Mohm\n  trimmer: 6k');
}

test('study: what setting at assembly wins back stands beside the batch as built', async (browser) => {
  const { file, page, end } = await asked(browser, { change: trimmed });
  const [panel, document] = await run(page, 'spread', { builds: '12', pair: '4' });
  same(plain(document), plain(cli('spread', file, '--json', '--builds', '12', '--pair', '4')), 'document');
  const rows = await panel.locator('.win-back .yield').evaluateAll((all) => all.map((r) => [r.querySelector('.yield-name').textContent, r.querySelector('b').textContent]));
  equal(rows.map(([name]) => name).join(), 'as built,trimmer,pairing discs with resistors in lots of 4', 'rows');
  equal(rows[1][1], `${(100 * document.win_back.adjustments[0].share).toFixed(1)} %`, 'the share that is good when trimmed');
  holds((await panel.locator('.win-back .turned').textContent()).includes('circuit.reference_lower by −3 kohm … +3 kohm'), 'by how much it is turned');
  page.allowed.push(/422/);
  await panel.locator('[name="as_built"]').setChecked(true);
  await panel.locator('button[type=submit]').click();
  await panel.locator('.stale:visible').waitFor();
  holds((await panel.locator('.stale:visible').textContent()).includes('pairing needs the engine, and the batch as it can be set right'), 'what excludes each other is told');
  await panel.locator('[name="pair"]').fill('');
  await panel.locator('button[type=submit]').click();
  await panel.locator('.yield.whole').waitFor();
  await ended(page, 'spread');
  equal(await panel.locator('.win-back').count(), 0, 'left out when asked');
  await end();
});

test('study: tables tell how far they are from the engine', async (browser) => {
  const { page, end } = await asked(browser);
  const [panel, document] = await run(page, 'spread', { builds: '5000', fast: 'yes' });
  equal(document.fast.checked, 200, 'checked');
  holds((await panel.textContent()).includes(`200 builds of this batch were computed both ways; ${document.fast.judged_otherwise} of ${200 - document.fast.unseen} are judged otherwise`), 'in words');
  const caption = panel.getByRole('table', { name: 'how far the tables are off' });
  equal(await caption.locator('tbody tr').count(), document.fast.errors.length, 'a row a figure');
  await end();
});

test('study: remedy gives the ways of the command line, and a way is tried as one unsaved step', async (browser) => {
  const { file, page, end } = await asked(browser, { deaf: true });
  const before = readFileSync(file, 'utf8');
  const [panel, document] = await run(page, 'remedy', { safety: '5', budget: '300' });
  same(plain(document), plain(cli('remedy', file, '--json', '--wanted', '3', '--safety', '0.05', '--budget', '300')), 'document');
  const way = panel.locator('.remedy').first();
  holds((await way.textContent()).includes(document.remedies[0].changes[0].field), 'the field is named');
  equal(await page.locator('.ledger .count').textContent(), '2 of 6 met', 'before');
  await way.getByRole('button', { name: 'Try it' }).click();
  await page.waitForFunction(() => document.querySelector('.ledger .count')?.textContent === '6 of 6 met', null, { timeout: 20000 });
  await settled(page);
  holds((await page.locator('.status').textContent()).includes('1 change tried, not saved'), 'tried, not saved');
  equal(readFileSync(file, 'utf8'), before, 'the file is untouched');
  holds((await panel.locator('.study-state').textContent()).includes('before the last change'), 'the ways are marked as those of the values before');
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.waitForFunction(() => document.querySelector('.ledger .count')?.textContent === '2 of 6 met', null, { timeout: 20000 });
  await settled(page);
  equal(await page.locator('.status').textContent(), 'as saved', 'one step back');
  await end();
});

test('study: compare puts the tried beside the saved, with the figures of the command line', async (browser) => {
  const { folder, file, page, end } = await asked(browser);
  await change(page, 'preload.force', '1.6 N ± 0.1');
  const tried = join(folder, 'tried.yaml');
  const saved = readFileSync(file, 'utf8');
  writeFileSync(tried, saved.replace('force: 0.8 N ± 0.1', 'force: 1.6 N ± 0.1'));
  const [panel, document] = await run(page, 'compare', {});
  const expected = cli('compare', file, tried, '--json', '--azimuths', '24', '--timed', '--map');
  same(JSON.stringify(document.measures), JSON.stringify(expected.measures), 'measures');
  const bare = (variants) => JSON.stringify(variants.map(({ design, ...rest }) => rest));
  same(bare(document.variants), bare(expected.variants), 'variants');
  const row = panel.locator('tr[data-measure="trip_force_side"]');
  const text = await row.textContent();
  holds(text.includes('not met') && text.includes('lost'), `said in words: ${text}`);
  await end();
});

test('study: compare with another design of the folder, by the name that was listed', async (browser) => {
  const { folder, file } = workplace();
  writeFileSync(join(folder, 'deaf.yaml'), deafen(readFileSync(file, 'utf8')));
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const panel = await study(page, 'compare');
  equal(await panel.locator('.study-field.check label').first().textContent(), 'deaf.yaml', 'offered');
  const [, document] = await run(page, 'compare', { 'file:deaf.yaml': 'yes', azimuths: '8', timed: '', map: '' });
  const expected = cli('compare', file, join(folder, 'deaf.yaml'), '--json');
  same(JSON.stringify(document.measures), JSON.stringify(expected.measures), 'measures');
  holds((await panel.locator('table.compare').first().textContent()).includes('deaf.yaml'), 'its column');
  await close(page);
  await server.stop();
});

test('study: compare with nothing to compare says what to do', async (browser) => {
  const { page, end } = await asked(browser);
  page.allowed.push(/422/);
  const panel = await study(page, 'compare');
  await panel.locator('button[type=submit]').click();
  await ended(page, 'compare');
  holds((await panel.locator('.stale').first().textContent()).includes('try a change'), 'the cure');
  await end();
});

test('study: a batch grows under the eyes, is stopped, keeps what was done, and can be run again', async (browser) => {
  const { page, end } = await asked(browser);
  page.allowed.push(/503/); // the browser notes that the job was stopped
  const panel = await study(page, 'spread', { builds: '100000' });
  await panel.locator('button[type=submit]').click();
  const count = () => panel.locator('.study-result b').first().textContent({ timeout: 20000 });
  const first = Number.parseInt(await count(), 10);
  await page.waitForFunction((n) => Number.parseInt(document.querySelector('#panel-spread .study-result b')?.textContent ?? '', 10) > n, first, { timeout: 20000 });
  holds(await panel.locator('progress').isVisible(), 'how far it is');
  holds(await panel.locator('.histogram').first().isVisible(), 'the histogram is there while it runs');
  await page.waitForFunction(() => /Working: .*left/.test(document.querySelector('#panel-spread .study-state')?.textContent ?? ''), null, { timeout: 20000 });
  /* what is typed is answered meanwhile */
  await page.locator('#tab-section').click();
  await page.locator('#tab-spread').click();
  await panel.getByRole('button', { name: 'Stop' }).click();
  await ended(page, 'spread');
  const kept = Number.parseInt(await count(), 10);
  holds(kept >= first && kept < 100000, `${kept} builds are kept`);
  holds((await panel.locator('.study-state').textContent()).includes('Stopped'), 'and says so');
  holds((await panel.locator('.yield.whole').textContent()).includes(`of ${kept}`), 'their yield');
  const [, document] = await run(page, 'spread', { builds: '20' });
  equal(document.builds, 20, 'run again');
  await end();
});

test('study: a change of the design ends a running study and marks old figures', async (browser) => {
  const { page, server, end } = await asked(browser);
  const [panel] = await run(page, 'spread', { builds: '20' });
  await study(page, 'spread', { builds: '100000' });
  await panel.locator('button[type=submit]').click();
  await panel.locator('.study-result b').first().waitFor();
  await change(page, 'preload.force', '0.9 N');
  await ended(page, 'spread');
  holds((await panel.locator('.study-state').textContent()).includes('before the last change'), 'marked');
  holds(await panel.locator('.old-figures, .study-result').first().isVisible(), 'but still to be read');
  /* nothing runs on in the server: the next study is not kept waiting */
  const began = Date.now();
  const [, next] = await run(page, 'spread', { builds: '20' });
  equal(next.builds, 20, 'the next');
  holds(Date.now() - began < 15000, 'at once');
  holds(server.process.exitCode === null, 'the server lives');
  await end();
});

test('study: a second study waits for the first and says so, and may be stopped before it begins', async (browser) => {
  const { page, end } = await asked(browser);
  page.allowed.push(/503|404/); // stopped jobs
  const first = await study(page, 'spread', { builds: '100000' });
  await first.locator('button[type=submit]').click();
  await first.locator('.study-result b').first().waitFor();
  const second = await study(page, 'drivers');
  await second.locator('button[type=submit]').click();
  await page.waitForFunction(() => document.querySelector('#panel-drivers .study-state')?.textContent?.includes('Waiting'), null, { timeout: 20000 });
  await second.getByRole('button', { name: 'Stop' }).click();
  await ended(page, 'drivers');
  holds((await second.locator('.study-state').textContent()).includes('before there was anything'), 'stopped in the queue');
  await page.locator('#tab-spread').click();
  holds(await first.getByRole('button', { name: 'Stop' }).isVisible(), 'the first goes on');
  await first.getByRole('button', { name: 'Stop' }).click();
  await ended(page, 'spread');
  await end();
});

test('study: a wider window does not end a study', async (browser) => {
  const { page, end } = await asked(browser);
  page.allowed.push(/503/);
  const panel = await study(page, 'spread', { builds: '100000' });
  await panel.locator('button[type=submit]').click();
  await panel.locator('.study-result b').first().waitFor();
  await page.locator('#tab-section').click();
  await page.setViewportSize({ width: 1700, height: 1000 });
  await page.getByLabel('units').selectOption('inch');
  await settled(page);
  await page.locator('#tab-spread').click();
  holds(await panel.getByRole('button', { name: 'Stop' }).isVisible(), 'still running');
  await panel.getByRole('button', { name: 'Stop' }).click();
  await ended(page, 'spread');
  await end();
});

test('study: wrong answers in the form are named beside it', async (browser) => {
  const { page, end } = await asked(browser);
  page.allowed.push(/422/);
  for (const [id, answers, says] of [
    ['spread', { builds: '0' }, 'from 1 to 100000'],
    ['spread', { builds: '10000000' }, 'from 1 to 100000'],
    ['vary', { field: 'preload.farce', from: '1 N', to: '2 N' }, 'did you mean preload.force'],
    ['vary', { field: 'preload.force', from: '1 mm', to: '2 mm' }, ''],
    ['remedy', { keep: 'engine' }, 'no part and no field'],
  ]) {
    const panel = await study(page, id, answers);
    await panel.locator('button[type=submit]').click();
    await ended(page, id);
    const text = await panel.locator('.stale').first().textContent();
    holds(text.length > 10 && text.includes(says), `${id} ${JSON.stringify(answers)}: ${text}`);
  }
  equal(await page.locator('#panel-spread [name="builds"]').getAttribute('aria-invalid'), 'true', 'the field is marked');
  await end();
});

test('study: a request made by hand is answered in words', async () => {
  const { file } = workplace();
  const server = await Server.start(file);
  for (const [body, field] of [
    [{ view: 'spread', study: { builds: 0 } }, 'study.builds'],
    [{ view: 'spread', study: { builds: 1e15 } }, 'study.builds'],
    [{ view: 'spread', study: { bulids: 5 } }, 'study.bulids'],
    [{ view: 'spread', study: 'much' }, 'study'],
    [{ view: 'vary', study: { fields: ['nothing.here=1..2'] } }, 'study.fields'],
    [{ view: 'compare', study: { files: ['/etc/passwd'] } }, 'study.files'],
    [{ view: 'compare', study: { files: ['../../etc/passwd'] } }, 'study.files'],
  ]) {
    const { job } = await (await server.ask('/api/job', body)).json();
    let reply;
    do {
      await new Promise((done) => setTimeout(done, 50));
      reply = await server.ask(`/api/job?number=${job}`);
    } while (reply.status === 202);
    const { error } = await reply.json();
    equal(reply.status, 422, JSON.stringify(body));
    equal(error.field, field, JSON.stringify(body));
    holds(error.text.length > 10, error.text);
  }
  await server.stop();
});

/** each study with figures in it */
const SHOWN = [
  ['vary', { field: 'preload.force', from: '0.4 N', to: '1.2 N', points: '9' }],
  ['vary', { field: 'preload.force', from: '0.4 N', to: '2 N', field2: 'seat.flat_radius', from2: '2 mm', to2: '4.5 mm', points: '6', show: 'margin' }],
  ['spread', { builds: '60' }],
  ['drivers', { global: '16' }],
  ['remedy', { safety: '0', budget: '150' }],
  ['compare', { azimuths: '8', timed: '', map: '' }],
];
for (const widths of [[390], [1280, 1920]]) {
  test(`study: looks at ${widths.join(' and ')} px, light and dark`, async (browser) => {
    const { page, end } = await asked(browser, { viewport: { width: widths[0], height: 900 } });
    await change(page, 'preload.force', '1.6 N ± 0.1');
    await page.getByRole('button', { name: 'close the fields' }).click();
    for (const [k, [id, answers]] of SHOWN.entries()) {
      /* a phone shows the same shares as a wide screen: one time is enough for what takes long */
      const [panel] = await run(page, id, id === 'drivers' && widths[0] < 600 ? {} : answers);
      for (const details of await panel.locator('.study-result details').all()) {
        await details.evaluate((e) => (e.open = true));
      }
      for (const width of widths) {
        for (const colorScheme of ['light', 'dark']) {
          await page.setViewportSize({ width, height: 900 });
          await page.emulateMedia({ colorScheme });
          await page.waitForTimeout(250);
          await settled(page);
          await page.screenshot({ path: join(shotFolder(), `study-${id}${k === 1 ? '-map' : ''}-${width}-${colorScheme}.png`), fullPage: true });
          equal((await page.evaluate(faults)).join('\n'), '', `${id} at ${width} px, ${colorScheme}`);
          equal((await serious(page)).join('\n'), '', `axe on ${id} at ${width} px, ${colorScheme}`);
        }
      }
    }
    await end();
  });
}

test('study: on paper what was opened, and a line that names what was not', async (browser) => {
  const { page, end } = await asked(browser);
  await run(page, 'spread', { builds: '20' });
  await page.locator('#tab-directions').click();
  await page.waitForFunction(() => document.querySelectorAll('.view-directions svg.rose').length > 0);
  await page.emulateMedia({ media: 'print' });
  await page.evaluate(() => window.dispatchEvent(new Event('beforeprint')));
  const shown = await page.locator('.panel').evaluateAll((panels) => panels.filter((p) => p.offsetHeight > 0).map((p) => p.id));
  equal(shown.join(), 'panel-section,panel-directions,panel-spread', 'printed');
  const note = await page.locator('.paper-note').textContent();
  holds(note.includes('Feed window') && note.includes('Remedy') && !note.includes('Spread,') && !note.includes('Directions'), note);
  equal(await page.locator('#panel-spread .study-form').isVisible(), false, 'without its form');
  equal(await page.evaluate(() => Math.max(0, document.scrollingElement.scrollWidth - innerWidth)), 0, 'too wide by');
  await page.screenshot({ path: join(shotFolder(), 'print-page.png'), fullPage: true });
  await page.evaluate(() => window.dispatchEvent(new Event('afterprint')));
  await page.emulateMedia({ media: 'screen' });
  equal(await page.locator('.paper-note').isVisible(), false, 'gone from the screen');
  /* figures of values that no longer stand are not printed as if they did */
  await change(page, 'preload.force', '0.9 N');
  await page.evaluate(() => window.dispatchEvent(new Event('beforeprint')));
  equal(await page.locator('#panel-spread').isVisible(), false, 'old figures stay away');
  holds((await page.locator('.paper-note').textContent()).includes('Spread'), 'and are named');
  await end();
});

for (const [width, colorScheme] of [[1280, 'light'], [390, 'dark']]) {
  test(`study: in the report, opened from disk at ${width} px, ${colorScheme}`, async (browser) => {
    const { folder, file } = workplace();
    writeFileSync(file, readFileSync(file, 'utf8').replace('force: 0.8 N ± 0.1', 'force: 1.3 N ± 0.1'));
    const out = join(folder, 'report.html');
    execFileSync(binary, ['report', file, '-o', out, '--with', width > 1000 ? 'spread,drivers,remedy' : 'spread,drivers', '--with', 'vary', '--builds', '60', '--seed', '3', '--field', 'preload.force=0.4..1.6N'], { stdio: 'pipe' });
    const page = await openReport(browser, out, { viewport: { width, height: 900 }, colorScheme });
    const data = await page.evaluate(() => JSON.parse(document.getElementById('report-data').textContent).views);
    const { asked: how, ...document } = data.spread;
    same(plain(document), plain(cli('spread', file, '--json', '--builds', '60', '--seed', '3')), 'spread');
    equal(JSON.stringify(how), '{"builds":60,"seed":3}', 'how it was asked for');
    const text = await page.locator('.view-spread').textContent();
    holds(text.includes('60 builds of seed 3') && text.includes('Level: engine, 8 azimuths'), 'builds, seed and level are stated');
    for (const id of ['vary', 'spread', 'drivers', ...(width > 1000 ? ['remedy'] : [])]) {
      holds(await page.locator(`.view-${id} .study-result`).isVisible(), id);
      equal(await page.locator(`.view-${id} form, .view-${id} button`).count(), 0, `${id}: nothing to press`);
    }
    equal(await page.locator('#part-compare').isVisible(), false, 'what is not in it leaves no room');
    equal(page.asked.join(), '', 'requests');
    await page.screenshot({ path: join(shotFolder(), `report-studies-${width}.png`), fullPage: true });
    /* the drawing of a report is a sheet of 180 mm: a phone shows it whole, to be zoomed into */
    const small = (fault) => width < 600 && /^[\d.]+ px: /.test(fault);
    equal((await page.evaluate(faults)).filter((fault) => !small(fault)).join('\n'), '', 'looks');
    equal((await serious(page)).join('\n'), '', 'axe');
    if (width > 1000) {
      const pdf = await page.pdf({ format: 'A4', path: join(shotFolder(), 'report-studies.pdf') });
      holds(pdf.length > 50000, 'a document');
    }
    await close(page);
  });
}

test('study: without --with the report has none and is as quick as it was', async (browser) => {
  const { folder, file } = workplace();
  const out = join(folder, 'report.html');
  execFileSync(binary, ['report', file, '-o', out], { stdio: 'pipe' });
  const page = await openReport(browser, out);
  const views = await page.evaluate(() => Object.keys(JSON.parse(document.getElementById('report-data').textContent).views));
  equal(views.filter((v) => ['vary', 'spread', 'drivers', 'remedy', 'compare'].includes(v)).join(), '', 'studies');
  equal(await page.locator('.view-study:visible').count(), 0, 'sections');
  equal(await page.locator('.report-nav a[href="#part-spread"]').isVisible(), false, 'no link to what is not there');
  await close(page);
});

test('study: the button Report takes the studies that were run here', async (browser) => {
  const { page, end } = await asked(browser);
  const [, shown] = await run(page, 'spread', { builds: '30', seed: '9' });
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: 'Report' }).click();
  const text = readFileSync(await (await download).path(), 'utf8');
  const { views } = JSON.parse(/id="report-data">(.*?)<\/script>/s.exec(text)[1]);
  equal(views.spread.hash, shown.hash, 'the same builds');
  equal(Object.keys(views).includes('drivers'), false, 'no study that was not run');
  await end();
});
