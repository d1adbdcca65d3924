// The file on disk belongs to its owner: edits elsewhere appear, two editors never overwrite each
// other silently, a killed server leaves the old or the new file, whole.
import { readFileSync, writeFileSync } from 'node:fs';
import { change, close, equal, holds, open, prove, Server, settled, test, workplace } from './lib.mjs';

function replaceIn(file, from, to) {
  const text = readFileSync(file, 'utf8');
  holds(text.includes(from), `${file} holds ${from}`);
  writeFileSync(file, text.replace(from, to));
}

test('disk: an edit made in an editor appears in every tab', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const tabs = [await open(browser, server.address), await open(browser, server.address)];
  for (const page of tabs) {
    await settled(page);
  }
  replaceIn(file, 'reach: 32 mm', 'reach: 36 mm');
  for (const page of tabs) {
    await page.waitForFunction(() => document.querySelector('.dimensions')?.textContent?.includes('36'), null, { timeout: 10000 });
    holds((await page.locator('.banner').textContent()).includes('changed elsewhere'), 'and is told');
    await close(page);
  }
  await server.stop();
});

test('disk: changed while something is tried: both are shown, the user chooses', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await change(page, 'preload.force', '1.1 N');
  replaceIn(file, 'force: 0.8 N ± 0.1', 'force: 0.7 N ± 0.1');
  const dialog = page.getByRole('alertdialog');
  await dialog.waitFor();
  const text = await dialog.textContent();
  holds(text.includes('1.1 N') && text.includes('0.7 N ± 0.1'), 'both values');
  await page.getByRole('button', { name: /Keep my changes/ }).click();
  await settled(page);
  equal(await page.locator('.status').textContent(), '1 change tried, not saved', 'still tried');
  await page.getByRole('button', { name: 'Save 1' }).click();
  await page.waitForFunction(() => document.querySelector('.status')?.textContent === 'as saved');
  holds(readFileSync(file, 'utf8').includes('force: 1.1 N'), 'saved on top');
  await close(page);
  await server.stop();
});

test('disk: taking the file drops what was tried', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await change(page, 'preload.force', '1.1 N');
  replaceIn(file, 'reach: 32 mm', 'reach: 34 mm');
  await page.getByRole('button', { name: /Take the file/ }).click();
  await page.waitForFunction(() => document.querySelector('.dimensions')?.textContent?.includes('34'));
  await settled(page);
  equal(await page.locator('.status').textContent(), 'as saved', 'nothing tried');
  equal(readFileSync(file, 'utf8').includes('1.1 N'), false, 'nothing written');
  await close(page);
  await server.stop();
});

test('disk: a save on a file that changed meanwhile is refused and writes nothing', async () => {
  const { file } = workplace();
  const server = await Server.start(file);
  const design = await (await server.ask('/api/design')).json();
  replaceIn(file, 'reach: 32 mm', 'reach: 34 mm');
  const there = readFileSync(file, 'utf8');
  const reply = await server.ask('/api/save', { set: { 'preload.force': '1 N' }, fingerprint: design.fingerprint });
  equal(reply.status, 409, 'status');
  equal(readFileSync(file, 'utf8'), there, 'file');
  await server.stop();
});

test('disk: a wrong value is never written', async () => {
  const { file } = workplace();
  const server = await Server.start(file);
  const there = readFileSync(file, 'utf8');
  const { fingerprint } = await (await server.ask('/api/design')).json();
  for (const set of [{ 'preload.force': '1 mm' }, { 'preload.farce': '1 N' }, { 'stylus.reach': '-3 mm' }, { 'stylus.reach': 'a: {b' }, { 'stylus.reach': '3 mm\nseat: {}' }]) {
    const reply = await server.ask('/api/save', { set, fingerprint });
    equal(reply.status, 422, JSON.stringify(set));
    holds((await reply.json()).error.text.length > 5, 'with a reason');
  }
  equal(readFileSync(file, 'utf8'), there, 'file');
  await server.stop();
});

test('disk: the server stopped and started again', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  page.allowed.push(/ERR_|Failed to (fetch|load)|401|503/);
  await settled(page);
  await change(page, 'preload.force', '1.1 N');
  await server.stop();
  await page.waitForFunction(() => document.querySelector('.banner')?.textContent?.includes('does not answer'), null, { timeout: 10000 });
  equal(await page.locator('[data-measure="trip_force_side"]').isVisible(), true, 'figures stay');
  const again = await Server.start(file, server.port);
  await page.waitForFunction(() => document.querySelector('.banner')?.textContent?.includes('new address'), null, { timeout: 20000 });
  await page.goto(again.address);
  await settled(page);
  equal(await page.locator('.status').textContent(), '1 change tried, not saved', 'taken up again');
  await close(page);
  await again.stop();
});

const KILLS = prove ? 200 : 20;
test(`disk: killed at ${KILLS} random moments while saving, the file is the old or the new one, whole`, async () => {
  const { file } = workplace();
  const old = readFileSync(file, 'utf8');
  let kept = 0, takes = 20;
  for (let i = 0; i < KILLS; i++) {
    writeFileSync(file, old);
    const server = await Server.start(file);
    const { fingerprint } = await (await server.ask('/api/design')).json();
    const value = `1.${String(i).padStart(3, '0')} N`;
    const began = performance.now();
    const saving = server.ask('/api/save', { set: { 'preload.force': value }, fingerprint }).catch(() => null);
    /* the first is let through, to learn how long a save takes here */
    if (i === 0) {
      await saving;
      takes = performance.now() - began;
    } else {
      await new Promise((done) => setTimeout(done, Math.random() * 1.2 * takes));
    }
    await server.kill();
    await saving;
    const now = readFileSync(file, 'utf8');
    const fresh = old.replace('force: 0.8 N ± 0.1', `force: ${value}`);
    holds(now === old || now === fresh, `neither old nor new after kill ${i}`);
    kept += now === old ? 1 : 0;
  }
  console.log(`      ${kept} times the old file, ${KILLS - kept} times the new one`);
});
