// Every view on a phone, a laptop and a wide screen, by day and by night: nothing overflows, nothing
// is cut, nothing lies on something else, nothing is smaller than 12 px; and axe-core finds nothing.
import { join } from 'node:path';
import { cli, close, equal, holds, open, Server, settled, shotFolder, test, workplace } from './lib.mjs';
import { faults, serious } from './looks.mjs';

for (const [width, height] of [[390, 844], [1280, 900], [1920, 1080]]) {
  for (const colorScheme of ['light', 'dark']) {
    test(`look: every view at ${width} px, ${colorScheme}`, async (browser) => {
      const { file } = workplace();
      const server = await Server.start(file);
      const page = await open(browser, server.address, { viewport: { width, height }, colorScheme });
      await settled(page);
      const ids = await page.locator('[role=tab]:visible').evaluateAll((tabs) => tabs.map((t) => t.id.slice(4)));
      holds(ids.length >= 5, `${ids.length} views`);
      for (const id of ids) {
        await page.locator(`#tab-${id}`).click();
        await page.waitForFunction((v) => !document.querySelector(`#panel-${v}`)?.textContent?.includes('Working…'), id);
        await page.waitForTimeout(250);
        await page.screenshot({ path: join(shotFolder(), `${id}-${width}-${colorScheme}.png`), fullPage: true });
        equal((await page.evaluate(faults)).join('\n'), '', `${id} at ${width} px`);
        equal((await serious(page)).join('\n'), '', `axe on ${id}`);
      }
      await page.locator('#tab-section').click();
      await page.locator('.part[data-part="stem"]').focus();
      await page.keyboard.press('Enter');
      await page.locator('.fields').waitFor();
      await page.waitForTimeout(200);
      await page.screenshot({ path: join(shotFolder(), `fields-${width}-${colorScheme}.png`) });
      equal((await page.evaluate(faults)).join('\n'), '', `fields at ${width} px`);
      equal((await serious(page)).join('\n'), '', 'axe on the fields');
      await close(page);
      await server.stop();
    });
  }
}

test('look: by keyboard: parts in signal order, fields open and close, focus comes back', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const order = await page.locator('.drawing .part').evaluateAll((parts) => parts.map((p) => p.dataset.part));
  equal(order.slice(0, 6).join(), 'ball,stem,carrier,seat,disc,support', 'order');
  await page.locator('.part[data-part="ball"]').focus();
  await page.keyboard.press('Tab');
  equal(await page.evaluate(() => document.activeElement.dataset.part), 'stem', 'Tab walks the parts');
  holds((await page.locator('.part-readout').textContent()).startsWith('stem'), 'the part is named');
  await page.keyboard.press('Enter');
  await page.locator('.fields').waitFor();
  await page.keyboard.press('Escape');
  equal(await page.evaluate(() => document.activeElement.dataset.part), 'stem', 'focus comes back');
  await page.locator('#tab-section').focus();
  await page.keyboard.press('ArrowRight');
  equal(await page.evaluate(() => document.activeElement.getAttribute('aria-selected')), 'true', 'arrows walk the views');
  await close(page);
  await server.stop();
});

test('look: the touch in slow motion states its exaggeration and returns to rest', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  const slider = page.getByLabel('progress of the touch');
  await slider.fill('600');
  holds(/rotate/.test(await page.locator('.moving').getAttribute('transform')), 'the carrier turns');
  holds(/drawn [\d,]+ times/.test(await page.locator('.motion-text').textContent()), 'the factor is stated');
  await slider.fill('1000');
  equal(await page.locator('.moving').getAttribute('transform'), null, 'back at rest');
  await close(page);
  await server.stop();
});

test('look: the touch along the axis lifts the carrier, shortens the stem, bends the disc, and says by how much', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await page.getByLabel('direction of the touch').selectOption('axial');
  const slider = page.getByLabel('progress of the touch');
  await slider.fill('600');
  const { value, contributions } = cli('check', file, '--json').measures.pretravel_axial;
  const lift = contributions.find((c) => c.cause === 'carrier translation').value;
  const moved = async (part) => Number(/translate\(0 (-?[\d.]+)\)/.exec(await page.locator(part).first().getAttribute('transform'))[1]);
  const carrier = -(await moved('.moving')), rest = -(await moved('.moving .part[data-part="ball"]'));
  holds(carrier > 0 && rest > 0, `up by ${carrier} and ${rest}`);
  holds(Math.abs(carrier / (carrier + rest) - lift / value) < 1e-3, 'in the proportion of check');
  const text = await page.locator('.motion-text').textContent();
  const factor = Number(/drawn ([\d,]+) times/.exec(text)[1].replaceAll(',', ''));
  const scale = Number(await page.locator('.moving').getAttribute('data-scale'));
  holds(Math.abs((carrier + rest) / (value * 1000 * scale * factor) - 1) < 1e-3, `the factor stated is the one drawn: ${text}`);
  equal(await page.locator('.motion-disc').count(), 1, 'the disc bends');
  await slider.fill('1000');
  equal(await page.locator('.moving').getAttribute('transform'), null, 'back at rest');
  equal(await page.locator('.moving .part[data-part="ball"]').getAttribute('transform'), null, 'the ball as well');
  equal(await page.locator('.motion-disc').count(), 0, 'the disc is flat again');
  await close(page);
  await server.stop();
});

for (const [width, height] of [[390, 844], [1280, 900], [1920, 1080]]) {
  for (const colorScheme of ['light', 'dark']) {
    test(`look: the disc shaded by charge and by stress at ${width} px, ${colorScheme}`, async (browser) => {
      const { file } = workplace();
      const server = await Server.start(file);
      const page = await open(browser, server.address, { viewport: { width, height }, colorScheme });
      await settled(page);
      equal(await page.locator('.drawing [class^="tone-"]').count(), 0, 'plain until asked');
      for (const [shade, unit] of [['charge', 'nC/N'], ['stress', 'MPa/N']]) {
        await page.getByLabel('shade the disc by').selectOption(shade);
        await page.locator('.drawing text', { hasText: unit }).waitFor();
        await settled(page);
        await page.screenshot({ path: join(shotFolder(), `shaded-${shade}-${width}-${colorScheme}.png`), fullPage: true });
        holds((await page.locator('.drawing rect[class^="tone-"]').count()) > 20, 'tones');
        equal(await page.locator('.drawing text').evaluateAll((all) => all.filter((t) => /^[▲▼] [+−][\d.]+ at [\d.]+ mm$/.test(t.textContent)).length), shade === 'charge' ? 1 : 2, 'the largest of each sign is named');
        equal((await page.evaluate(faults)).join('\n'), '', `${shade} at ${width} px`);
        equal((await serious(page)).join('\n'), '', `axe, ${shade}`);
      }
      await page.getByLabel('shade the disc by').selectOption('none');
      await page.waitForFunction(() => !document.querySelector('.drawing [class^="tone-"]'));
      await close(page);
      await server.stop();
    });
  }
}

test('look: in the view of the disc the user chooses the face whose stress is shown', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await page.locator('#tab-disc').click();
  const face = page.getByLabel('face whose stress is shown');
  await face.waitFor();
  equal((await face.inputValue()).startsWith('ceramic'), true, 'the ceramic first: it is what breaks');
  const before = await page.locator('.disc-plan').nth(1).getAttribute('aria-label');
  await face.selectOption('metal, inner face');
  const after = await page.locator('.disc-plan').nth(1).getAttribute('aria-label');
  holds(after !== before && after.includes('metal, inner face') && /to [\d.]+ MPa\/N/.test(after), after);
  const key = await page.locator('.disc-plan').nth(1).locator('xpath=following-sibling::ol/li').allTextContents();
  holds(key.length >= 2 && key.every((k) => /Pa\/N/.test(k)), `a key with unit and range: ${key}`);
  await close(page);
  await server.stop();
});
