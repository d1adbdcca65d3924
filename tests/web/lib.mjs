// lib.mjs: what the page's tests share: a server on a copy of an example, a browser, checks.
import { spawn, execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, rmSync, mkdirSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

export const here = dirname(fileURLToPath(import.meta.url));
export const root = resolve(here, '../..');
export const binary = resolve(process.env.TW_BINARY ?? join(root, 'build/release/bin/tripwright'));
export const prove = process.env.TW_PROVE === '1';
export const example = join(root, 'examples/pillar-indexer.yaml');

const tests = [];
export function test(name, run) {
  tests.push({ name, run });
}
export function allTests() {
  return tests;
}

export function equal(value, expected, what) {
  if (value !== expected) {
    throw new Error(`${what}: ${JSON.stringify(value)}, expected ${JSON.stringify(expected)}`);
  }
}
export function holds(condition, what) {
  if (!condition) {
    throw new Error(what);
  }
}

const folders = [];
/** a folder of its own with a copy of the example */
export function workplace() {
  const folder = mkdtempSync(join(tmpdir(), 'tripwright-page-'));
  folders.push(folder);
  const file = join(folder, 'probe.yaml');
  copyFileSync(example, file);
  return { folder, file };
}
export function clearWorkplaces() {
  for (const folder of folders) {
    rmSync(folder, { recursive: true, force: true });
  }
}

export class Server {
  static running = new Set();
  static async start(file, port = 0) {
    const server = new Server();
    server.process = spawn(binary, ['serve', file, '--port', String(port)], { stdio: ['ignore', 'pipe', 'pipe'] });
    Server.running.add(server);
    server.errors = '';
    server.process.stderr.on('data', (d) => (server.errors += d));
    server.ended = new Promise((done) => server.process.once('exit', (code, signal) => {
      Server.running.delete(server);
      done(signal ?? code);
    }));
    server.address = await new Promise((done, fail) => {
      let text = '';
      server.process.stdout.on('data', (d) => {
        text += d;
        if (text.includes('\n')) {
          done(text.trim());
        }
      });
      server.process.once('exit', (code) => fail(new Error(`the server ended with ${code}: ${server.errors}`)));
    });
    const url = new URL(server.address);
    server.port = Number(url.port);
    server.origin = url.origin;
    server.token = url.hash.slice(1);
    return server;
  }
  async stop() {
    this.process.kill('SIGTERM');
    return this.ended;
  }
  async kill() {
    this.process.kill('SIGKILL');
    return this.ended;
  }
  /** a request as the page sends it */
  async ask(path, body, headers = {}) {
    const all = { 'X-Tripwright-Token': this.token, ...(body === undefined ? {} : { Origin: this.origin, 'Content-Type': 'application/json' }), ...headers };
    return fetch(this.origin + path, { method: body === undefined ? 'GET' : 'POST', headers: all, body: body === undefined ? undefined : JSON.stringify(body) });
  }
}

/** the program's own answer as JSON; exit codes 0 and 1 both carry a result */
export function cli(...args) {
  try {
    return JSON.parse(execFileSync(binary, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'], maxBuffer: 1 << 26 }));
  } catch (error) {
    if (error.status === 1) {
      return JSON.parse(error.stdout);
    }
    throw error;
  }
}

export async function launch() {
  return chromium.launch({
    executablePath: process.env.TW_CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}

/** a page whose console must stay silent but for what `allowed` matches */
export async function open(browser, address, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage();
  page.complaints = [];
  page.allowed = [];
  const note = (text) => {
    if (!page.allowed.some((r) => r.test(text))) {
      page.complaints.push(text);
    }
  };
  page.on('console', (m) => (m.type() === 'error' || m.type() === 'warning') && note(m.text()));
  page.on('pageerror', (e) => note(String(e)));
  await page.goto(address);
  return page;
}

/** a report's file without any network; page.asked lists what it asked for all the same */
export async function openReport(browser, out, options = {}) {
  const page = await open(browser, 'about:blank', options);
  page.asked = [];
  page.on('request', (r) => r.url().startsWith('http') && page.asked.push(r.url()));
  await page.context().setOffline(true);
  await page.goto(pathToFileURL(out).href);
  await page.locator('.report-head h1').waitFor();
  await page.waitForFunction(() => ![...document.querySelectorAll('.view')].some((v) => v.textContent.includes('Working…')));
  await page.waitForTimeout(400);
  return page;
}

export async function close(page) {
  const { complaints } = page;
  await page.context().close();
  equal(complaints.join('\n'), '', 'console');
}

export async function settled(page) {
  await page.waitForFunction(() => document.querySelector('.status')?.classList.contains('phase-settled'), null, { timeout: 20000 });
}

/** open a field by its path through the search box and give back its input */
export async function field(page, path) {
  if (!(await page.locator('.fields').isVisible())) {
    await page.getByRole('button', { name: 'Fields', exact: true }).click();
  }
  await page.locator('.field-search').fill(path);
  const row = page.locator(`.field[data-path="${path}"]`);
  await row.waitFor();
  return row.locator('.field-line input, .field-line select');
}

/** change a field as a person does and wait until the figures have settled on it */
export async function change(page, path, text) {
  const input = await field(page, path);
  /* the settled figures are a job: note its number, then wait for its result */
  const jobs = new Set();
  const done = page.waitForResponse(async (r) => {
    const url = new URL(r.url());
    const asked = r.request().method() === 'POST' ? r.request().postDataJSON() : null;
    if (url.pathname === '/api/job' && asked?.view === 'settled' && asked.set?.[path] === text) {
      jobs.add(String((await r.json()).job));
    }
    return url.pathname === '/api/job' && r.request().method() === 'GET' && r.status() === 200 && jobs.has(url.searchParams.get('number'));
  }, { timeout: 20000 });
  const kind = await input.evaluate((e) => e.tagName);
  if (kind === 'SELECT') {
    await input.selectOption(text);
  } else {
    await input.fill(text);
  }
  const answer = await (await done).json();
  await settled(page);
  return answer;
}

export function shotFolder() {
  const folder = join(here, 'shots');
  mkdirSync(folder, { recursive: true });
  return folder;
}
