// Every view on a phone, a laptop and a wide screen, by day and by night: nothing overflows, nothing
// is cut, nothing lies on something else, nothing is smaller than 12 px; and axe-core finds nothing.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { close, equal, holds, open, Server, settled, shotFolder, test, workplace } from './lib.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** what is wrong with the page as it stands, in words */
function faults() {
  const found = [];
  const shown = (e) => {
    const r = e.getBoundingClientRect();
    return r.width > 0.5 && r.height > 0.5 && getComputedStyle(e).visibility !== 'hidden' && !e.closest('.hidden, .skip, [hidden], details:not([open]) > :not(summary)');
  };
  const wide = document.scrollingElement.scrollWidth - window.innerWidth;
  if (wide > 0) {
    found.push(`the page is ${wide} px too wide`);
  }
  for (const e of document.querySelectorAll('button, h1, h2, h3, p, dt, dd, summary, th, td, label, figcaption')) {
    if (shown(e) && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== 'visible') {
      found.push(`cut: ${e.tagName} ${e.textContent.slice(0, 40)}`);
    }
  }
  const texts = [...document.querySelectorAll('.drawing text, .rose text, .hemisphere text, .disc-plan text')].filter(shown);
  const boxes = texts.map((e) => [e, e.getBoundingClientRect()]);
  for (const svg of new Set(texts.map((e) => e.ownerSVGElement))) {
    const frame = svg.getBoundingClientRect();
    const mine = boxes.filter(([e]) => e.ownerSVGElement === svg);
    for (const [e, r] of mine) {
      if (r.left < frame.left - 1 || r.right > frame.right + 1 || r.top < frame.top - 1 || r.bottom > frame.bottom + 1) {
        found.push(`out of its picture: ${e.textContent}`);
      }
      const scale = svg.getScreenCTM().a;
      const size = parseFloat(getComputedStyle(e).fontSize) * scale;
      if (size < 11.95) {
        found.push(`${size.toFixed(1)} px: ${e.textContent}`);
      }
    }
    for (let i = 0; i < mine.length; i++) {
      for (let k = 0; k < i; k++) {
        const [a, b] = [mine[i][1], mine[k][1]];
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        /* line boxes hold some air above and below the letters */
        if (across > 1 && down > 0.35 * Math.min(a.height, b.height)) {
          found.push(`"${mine[i][0].textContent}" lies on "${mine[k][0].textContent}"`);
        }
      }
    }
  }
  for (const e of document.querySelectorAll('p, span, td, th, dt, dd, button, label, summary, h1, h2, h3, li, figcaption, input, select')) {
    if (shown(e) && parseFloat(getComputedStyle(e).fontSize) < 12) {
      found.push(`${getComputedStyle(e).fontSize}: ${e.tagName} ${e.textContent.slice(0, 30)}`);
    }
  }
  return [...new Set(found)];
}

async function serious(page) {
  await page.evaluate(axe);
  const result = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.filter((v) => v.impact === 'serious' || v.impact === 'critical').map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join('; ')}`);
}

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
