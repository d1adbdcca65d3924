// The main path: open, read a requirement, change fields of every kind, undo, save; figures and
// drawing are those of the command line; the file differs in the changed values only.
import { readFileSync, writeFileSync } from 'node:fs';
import { change, cli, close, equal, field, holds, open, Server, settled, test, workplace } from './lib.mjs';

const CHANGES = [
  ['support.ledge_radius', '9.2 mm ± 0.05', 'quantity'],
  ['circuit.clamp', 'none', 'choice'],
  ['seat.friction', '0.2 ± 0.05', 'number'],
  ['housing.screw_count', '4', 'count'],
  ['stylus.stem', 'steel', 'text'],
];

test('edit: a requirement is read with value, limit and margin', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const expected = cli('check', file, '--json').measures.trip_force_side;
  const row = page.locator('[data-measure="trip_force_side"]');
  equal(await row.locator('.measure-value .number').textContent(), expected.value.toPrecision(3), 'value shown');
  holds((await row.locator('summary').textContent()).includes('met'), 'says in words whether it is met');
  holds((await row.locator('.measure-limit').textContent()).includes('0.150 N'), 'limit');
  await row.locator('summary').click();
  const parts = await row.locator('.contributions th[scope=row]').allTextContents();
  equal(parts.join(), expected.contributions.map((c) => c.cause).join(), 'contributions');
  await close(page);
  await server.stop();
});

test('edit: five kinds of fields; settled figures and drawing are exactly those of check --set', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const types = await page.evaluate(async () => (await (await fetch('/api/design', { headers: { 'X-Tripwright-Token': location.hash.slice(1) } })).json()).fields.map((f) => [f.path, f.type]));
  const typeOf = Object.fromEntries(types);
  const set = [];
  for (const [path, text, type] of CHANGES) {
    equal(typeOf[path], type, `kind of ${path}`);
    const answer = await change(page, path, text);
    set.push('--set', `${path}=${text}`);
    const expected = cli('check', file, '--json', ...set);
    equal(JSON.stringify(answer.check.measures), JSON.stringify(expected.measures), `figures after ${path}`);
    equal(JSON.stringify(answer.check.warnings), JSON.stringify(expected.warnings), `warnings after ${path}`);
  }
  const drawing = await page.locator('.drawing').textContent();
  holds(drawing.includes('ledge at 9.2 mm'), 'the drawing has the new ledge');
  holds(drawing.includes('4 across'), 'the drawing has the new number of screws');
  equal(await page.locator('.status').textContent(), '5 changes tried, not saved', 'status');
  await close(page);
  await server.stop();
});

test('edit: while the settled figures are computed every requirement keeps its place', async (browser) => {
  const { file } = workplace();
  writeFileSync(file, readFileSync(file, 'utf8').replace(/^requirements:$/m, 'requirements:\n  slowest_feed: "<= 50 mm/min"'));
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const names = () => page.locator('.ledger > .measure').evaluateAll((rows) => rows.map((r) => r.dataset.measure).join());
  const before = await names(), others = await page.locator('.others > summary').first().textContent();
  const row = page.locator('[data-measure="slowest_feed"]');
  equal(await row.evaluate((r) => r.classList.contains('met')), true, 'met at first');
  let go;
  const held = new Promise((done) => (go = done));
  await page.route('**/api/job', async (route) => {
    await held;
    await route.continue();
  });
  await field(page, 'stylus.reach');
  await page.locator('.field[data-path="stylus.reach"] input').fill('34 mm');
  await page.waitForFunction(() => document.querySelector('[data-measure="slowest_feed"]')?.classList.contains('waiting'));
  holds((await row.textContent()).includes('being computed'), 'says what it waits for');
  equal(await names(), before, 'the same rows in the same order');
  equal(await page.locator('.others > summary').first().textContent(), others, 'and as many further figures');
  go();
  await settled(page);
  equal(await row.evaluate((r) => r.classList.contains('met')), true, 'and met again');
  await close(page);
  await server.stop();
});

test('edit: a change shows the value before, undo and redo walk back and forth', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const value = page.locator('[data-measure="trip_force_side"] .measure-value .number');
  const before = await value.textContent();
  await change(page, 'preload.force', '1.2 N');
  const after = await value.textContent();
  holds(before !== after, 'the figure changed');
  holds((await page.locator('[data-measure="trip_force_side"] .was').textContent()).includes(before), 'the value before stands beside it');
  holds((await page.locator('[data-measure="trip_force_side"] .ruler-ghost').count()) === 1, 'and as a ghost on the ruler');
  await change(page, 'stylus.reach', '35 mm');
  await page.getByRole('button', { name: 'Undo' }).click();
  await settled(page);
  await page.waitForFunction((t) => document.querySelector('[data-measure="trip_force_side"] .measure-value .number')?.textContent === t, after);
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.waitForFunction((t) => document.querySelector('[data-measure="trip_force_side"] .measure-value .number')?.textContent === t, before);
  equal(await page.getByRole('button', { name: 'Undo' }).isDisabled(), true, 'nothing left to undo');
  await page.getByRole('button', { name: 'Redo' }).click();
  await page.waitForFunction((t) => document.querySelector('[data-measure="trip_force_side"] .measure-value .number')?.textContent === t, after);
  equal(readFileSync(file, 'utf8').includes('1.2 N'), false, 'the file is untouched while trying');
  await close(page);
  await server.stop();
});

test('edit: saving rewrites only the changed values, byte for byte', async (browser) => {
  const { file } = workplace();
  const old = readFileSync(file, 'utf8');
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await change(page, 'support.ledge_radius', '9.15 mm');
  await change(page, 'preload.force', '0.9 N ± 0.1');
  await page.getByRole('button', { name: 'Save 2' }).click();
  await page.waitForFunction(() => document.querySelector('.status')?.textContent === 'as saved');
  const expected = old.replace('9.3 mm ± 0.05', '9.15 mm').replace('force: 0.8 N ± 0.1', 'force: 0.9 N ± 0.1');
  holds(expected !== old, 'the example holds both values');
  equal(readFileSync(file, 'utf8'), expected, 'file');
  await close(page);
  await server.stop();
});

test('edit: a wrong unit stays as typed with the message beside it, figures keep the last good state', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  page.allowed.push(/422/); // the browser notes the refusal
  await settled(page);
  const before = await page.locator('[data-measure="trip_force_side"] .measure-value').textContent();
  const input = await field(page, 'stylus.reach');
  await input.fill('32 N');
  const message = page.locator('.field[data-path="stylus.reach"] .field-message');
  await message.waitFor();
  holds((await message.textContent()).length > 10, 'a sentence');
  equal(await input.inputValue(), '32 N', 'as typed');
  equal(await input.getAttribute('aria-invalid'), 'true', 'marked');
  equal(await page.locator('[data-measure="trip_force_side"] .measure-value').textContent(), before, 'last good figure');
  holds(await page.locator('.ledger .stale').isVisible(), 'and says so');
  equal(await page.getByRole('button', { name: /Save/ }).isDisabled(), true, 'cannot be saved');
  await input.fill('33 mm');
  await settled(page);
  equal(await message.isVisible(), false, 'message gone');
  await close(page);
  await server.stop();
});

test('edit: a file that cannot be read opens with the reason', async (browser) => {
  const { file } = workplace();
  writeFileSync(file, 'design: broken\nseat: {kind: swivel}\n');
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  page.allowed.push(/422/);
  await page.locator('.banner-text').waitFor();
  holds((await page.locator('.banner-text').textContent()).length > 10, 'the reason is there');
  await close(page);
  await server.stop();
});

test('edit: inch shows and draws inch, the figures stay', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await page.getByLabel('units').selectOption('inch');
  await page.waitForFunction(() => document.querySelector('.drawing')?.textContent?.includes('inch'));
  await settled(page);
  const metres = cli('check', file, '--json').measures.pretravel_side.value;
  equal(await page.locator('[data-measure="pretravel_side"] .measure-value .number').textContent(), (metres / 25.4e-6).toPrecision(3), 'thou');
  await close(page);
  await server.stop();
});
