// Every view on a phone, a laptop and a wide screen, by day and by night: nothing overflows, nothing
// is cut, nothing lies on something else, nothing is smaller than 12 px; and axe-core finds nothing.
import { join } from 'node:path';
import { close, equal, holds, open, Server, settled, shotFolder, test, workplace } from './lib.mjs';
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
  equal(await page.locator('.moving').getAttribute('transform'), '', 'back at rest');
  await close(page);
  await server.stop();
});
