// looks.mjs: what can be wrong with how a page looks, found by measuring, and what axe-core finds.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** what is wrong with the page as it stands, in words */
export function faults() {
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
  const texts = [...document.querySelectorAll('.drawing text, .rose text, .hemisphere text, .disc-plan text, .study-map text, .histogram text')].filter(shown);
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

export async function serious(page) {
  await page.evaluate(axe);
  const result = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
  return result.violations.filter((v) => v.impact === 'serious' || v.impact === 'critical').map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join('; ')}`);
}
