// The bench card on the page: readings typed beside it, and what explains them, as the command finds.
import { join } from 'node:path';
import { change, cli, close, equal, holds, open, Server, settled, shotFolder, test, workplace } from './lib.mjs';
import { faults, serious } from './looks.mjs';

async function card(browser, options = {}) {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address, options);
  await settled(page);
  await page.locator('#tab-bench').click();
  await page.locator('#panel-bench input[name="decay"]').waitFor();
  return { file, page, panel: page.locator('#panel-bench'), end: async () => { await close(page); await server.stop(); } };
}

const READ = { supply_current: '74 uA', rest_node: '300 mV ± 5', decay: '3.4 ms' };

async function find(page, panel, readings) {
  for (const [check, text] of Object.entries(readings)) {
    await panel.locator(`input[name="${check}"]`).fill(text);
  }
  const jobs = new Set();
  const done = page.waitForResponse(async (r) => {
    const url = new URL(r.url());
    if (url.pathname === '/api/job' && r.request().method() === 'POST' && r.request().postDataJSON()?.view === 'suspect') {
      jobs.add(String((await r.json()).job));
    }
    return url.pathname === '/api/job' && r.request().method() === 'GET' && r.status() === 200 && jobs.has(url.searchParams.get('number'));
  }, { timeout: 60000 });
  await panel.getByRole('button', { name: 'Find what is wrong' }).click();
  const document = await (await done).json();
  await panel.locator('.suspect-verdict').waitFor();
  return document;
}

test('bench: readings typed into the card give the suspects of the command line', async (browser) => {
  const { file, page, panel, end } = await card(browser);
  equal(await panel.getByRole('button', { name: 'Find what is wrong' }).isDisabled(), true, 'nothing is read yet');
  const document = await find(page, panel, READ);
  const { left_out, ...rest } = document;
  equal(JSON.stringify(rest), JSON.stringify(cli('suspect', file, '--json', ...Object.entries(READ).flatMap(([c, t]) => ['--read', `${c}=${t}`]))), 'document');
  holds((await panel.locator('.suspect').first().textContent()).startsWith('circuit.leakage_resistance: 0.63 Mohm in place of 1000 Mohm (board)'), 'the leak');
  equal(await panel.locator('.reads-off').count(), 2, 'two readings are off');
  equal(left_out.length, 0, 'nothing left out');
  await end();
});

test('bench: readings stay when the design changes and when the page is loaded again', async (browser) => {
  const { page, panel, end } = await card(browser);
  await panel.locator('input[name="decay"]').fill('3.4 ms');
  await change(page, 'stylus.reach', '35 mm');
  await page.waitForFunction(() => document.querySelector('#panel-bench input[name="decay"]')?.value === '3.4 ms');
  await page.reload();
  await settled(page);
  await page.locator('#tab-bench').click();
  await page.locator('#panel-bench input[name="decay"]').waitFor();
  equal(await page.locator('#panel-bench input[name="decay"]').inputValue(), '3.4 ms', 'after loading');
  await end();
});

test('bench: a reading that cannot be read is told at its box', async (browser) => {
  const { page, panel, end } = await card(browser);
  page.allowed.push(/422/);
  await panel.locator('input[name="decay"]').fill('3.4 mV');
  await panel.getByRole('button', { name: 'Find what is wrong' }).click();
  await panel.locator('.suspects .stale').waitFor();
  holds((await panel.locator('.suspects .stale').textContent()).includes("decay: 'mV' does not fit"), 'why');
  equal(await panel.locator('input[name="decay"]').getAttribute('aria-invalid'), 'true', 'the box is marked');
  await panel.locator('input[name="decay"]').fill('8.4 ms');
  equal(await panel.locator('input[name="decay"]').getAttribute('aria-invalid'), null, 'and no more when it is mended');
  await find(page, panel, {});
  holds((await panel.locator('.suspect-verdict').textContent()).includes('Nothing to look for'), 'a good reading has no suspects');
  await end();
});

for (const [width, scheme] of [[390, 'dark'], [1280, 'light'], [1920, 'dark']]) {
  test(`bench: suspects at ${width} px, ${scheme}`, async (browser) => {
    const { page, panel, end } = await card(browser, { viewport: { width, height: 900 }, colorScheme: scheme });
    await find(page, panel, { rest_node: '300 mV' });
    holds(await panel.locator('.suspect').count() > 1, 'several');
    equal((await page.evaluate(faults)).join('\n'), '', 'looks');
    await page.screenshot({ path: join(shotFolder(), `suspects-${width}-${scheme}.png`), fullPage: true });
    equal((await serious(page)).join('\n'), '', 'axe');
    await end();
  });
}
