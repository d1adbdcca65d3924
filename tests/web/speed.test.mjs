// How quick it is, measured in the browser on this machine: key press to first paint, settled
// figures, first load. Others may use the machine meanwhile, so the best of three rounds counts.
import { close, field, holds, open, prove, Server, settled, test, workplace } from './lib.mjs';

/** wall time over processor time of a busy loop: 1 on a quiet machine */
function contention() {
  const wall = performance.now(), cpu = process.cpuUsage();
  let x = 1;
  while (process.cpuUsage(cpu).user < 150000) {
    for (let i = 0; i < 1000; i++) {
      x = Math.sqrt(x + i);
    }
  }
  const used = process.cpuUsage(cpu);
  return (performance.now() - wall) / ((used.user + used.system) / 1000 + (x < 0 ? 1 : 0));
}

/** figures are printed always and judged with TW_PROVE=1 only: a timed test that may fail for what
 *  others do on the machine proves nothing */
function judge(busy, checks) {
  for (const [figure, limit, what] of checks) {
    console.log(`      ${what}: ${figure.toFixed(0)} ms, at most ${limit} ms (a busy loop takes ${busy.toFixed(1)} times its time)`);
    if (prove) {
      holds(figure <= limit, `${what}: ${figure.toFixed(0)} ms, at most ${limit} ms`);
    }
  }
}

/** type into the focused input and wait for the first figures and for the settled ones, in ms */
async function oneKey(page, path, text) {
  return page.evaluate(async ([p, t]) => {
    const input = document.querySelector(`.field[data-path="${p}"] input`);
    const status = document.querySelector('.status');
    const paper = document.querySelector('.paper-holder');
    const began = performance.now();
    let first = 0;
    const painted = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
    const seen = new Promise((done) => {
      const watch = new MutationObserver(async () => {
        watch.disconnect();
        await painted();
        first = performance.now() - began;
        done();
      });
      watch.observe(paper, { childList: true, subtree: true, attributes: true, characterData: true });
    });
    input.value = t;
    input.dispatchEvent(new Event('input', { bubbles: true }));
    await seen;
    while (!status.classList.contains('phase-settled')) {
      await new Promise((done) => setTimeout(done, 4));
    }
    return [first, performance.now() - began];
  }, [path, text]);
}

function at(sorted, share) {
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
}

test('speed: first paint after a key press 50 ms (95 %: 120 ms), settled within 300 ms', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const page = await open(browser, server.address);
  await settled(page);
  await field(page, 'stylus.reach');
  const busy = contention();
  let best = null;
  for (let round = 0; round < 3; round++) {
    const firsts = [], ends = [];
    for (let i = 0; i < 20; i++) {
      const [first, end] = await oneKey(page, 'stylus.reach', `${32 + (i + 1 + 20 * round) / 10} mm`);
      firsts.push(first);
      ends.push(end);
    }
    firsts.sort((a, b) => a - b);
    ends.sort((a, b) => a - b);
    const figures = { median: at(firsts, 0.5), most: at(firsts, 0.95), settled: at(ends, 0.5) };
    best = !best || figures.median < best.median ? figures : best;
  }
  console.log(`      first paint median ${best.median.toFixed(0)} ms, 95 % ${best.most.toFixed(0)} ms, settled ${best.settled.toFixed(0)} ms`);
  judge(Math.max(busy, contention()), [[best.median, 50, 'median'], [best.most, 120, '95 %'], [best.settled, 300, 'settled']]);
  await close(page);
  await server.stop();
});

test('speed: first load under 1 s', async (browser) => {
  const { file } = workplace();
  const server = await Server.start(file);
  const busy = contention();
  let best = Infinity;
  for (let i = 0; i < 3; i++) {
    const began = performance.now();
    const page = await open(browser, server.address);
    await page.locator('.drawing').waitFor();
    best = Math.min(best, performance.now() - began);
    await close(page);
  }
  console.log(`      ${best.toFixed(0)} ms`);
  judge(Math.max(busy, contention()), [[best, 1000, 'first load']]);
  await server.stop();
});
