// ledger.ts: the requirements, always in view: value, limit, margin, and what a figure is made of.
import { arrange, h, replace, s } from './dom';
import { outward, parts, percent, show, words } from './format';
import type { Measure, MeasureInfo } from './types';
import type { Store } from './store';

const WIDTH = 300;
const HEIGHT = 22;

/** met: filled dot; not met: open triangle; no requirement: short dash */
function sign(measure: Measure): SVGElement {
  const met = measure.met;
  const shape =
    met === true ? s('circle', { cx: 7, cy: 7, r: 4.6, class: 'sign-met' })
    : met === false ? s('path', { d: 'M7 1.6L12.6 12H1.4Z', class: 'sign-unmet' })
    : s('path', { d: 'M3 7H11', class: 'sign-none' });
  return s('svg', { viewBox: '0 0 14 14', class: 'sign', 'aria-hidden': 'true' }, shape);
}

function metWords(measure: Measure): string {
  return measure.met === true ? 'met' : measure.met === false ? 'not met' : 'no requirement';
}

function limits(measure: Measure): number[] {
  const limit = measure.limit;
  return typeof limit === 'number' ? [limit] : Array.isArray(limit) ? limit : [];
}

/** a ruler from 0: contributions as segments, the limit as a tick, the value before as a ghost */
function ruler(measure: Measure, before: Measure | undefined): SVGElement | null {
  if (typeof measure.value !== 'number') {
    return null;
  }
  const value = Math.abs(measure.value);
  const old = typeof before?.value === 'number' ? Math.abs(before.value) : null;
  const ticks = limits(measure).map(Math.abs);
  const most = Math.max(value, old ?? 0, ...ticks, ...(measure.band ?? []).map(Math.abs)) * 1.12 || 1;
  const x = (v: number): number => (WIDTH * v) / most;
  const svg = s('svg', { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: 'ruler', preserveAspectRatio: 'none', 'aria-hidden': 'true' });
  svg.append(s('path', { d: `M0 16H${WIDTH}`, class: 'ruler-base' }));
  let at = 0;
  const pieces = measure.contributions.filter((c) => c.value > 0);
  /* a bar with nothing to hold it against says nothing */
  if (ticks.length === 0 && pieces.length < 2 && !measure.band && (old === null || old === value)) {
    return null;
  }
  if (pieces.length > 1) {
    pieces.forEach((piece, i) => {
      svg.append(s('rect', { x: x(at), y: 8, width: Math.max(0, x(piece.value) - 0.8), height: 8, class: `segment segment-${i % 6}` }));
      at += piece.value;
    });
  } else {
    svg.append(s('rect', { x: 0, y: 8, width: x(value), height: 8, class: 'segment segment-0' }));
  }
  if (measure.band) {
    const [low, high] = measure.band;
    svg.append(s('path', { d: `M${x(Math.abs(low))} 12H${x(Math.abs(high))}`, class: 'ruler-band' }));
  }
  if (old !== null && Math.abs(old - value) > 1e-9 * Math.abs(value)) {
    svg.append(s('path', { d: `M${x(old)} 4V20`, class: 'ruler-ghost' }));
  }
  for (const tick of ticks) {
    svg.append(s('path', { d: `M${x(tick)} 2V20`, class: 'ruler-limit' }));
    svg.append(s('path', { d: `M${x(tick) - 3.4} 0h6.8l-3.4 5z`, class: 'ruler-notch' }));
  }
  return svg;
}

function valueText(name: string, measure: Measure, store: Store): [string, string] {
  if (typeof measure.value === 'string') {
    return [measure.value, ''];
  }
  if (measure.value === null) {
    return [measure.state.replace(/_/g, ' '), ''];
  }
  const way = store.design?.measures.find((m) => m.name === name)?.rounds ?? 0;
  if (way !== 0) {
    const [number, ...unit] = outward(measure.value, way, store.system).split(' ');
    return [number ?? '', unit.join(' ')];
  }
  return parts(measure.value, measure.unit, store.system);
}

function change(name: string, measure: Measure, before: Measure | undefined, store: Store): string {
  if (!before || before.value === measure.value) {
    return '';
  }
  const [number, unit] = valueText(name, before, store);
  return `was ${number}${unit ? ` ${unit}` : ''}`;
}

function limitText(measure: Measure, store: Store): string {
  if (!measure.rule) {
    return '';
  }
  const limit = measure.limit;
  if (typeof limit === 'number') {
    const way = measure.rule.trim().startsWith('>') ? '≥' : '≤';
    return `${way} ${show(limit, measure.unit, store.system)}`;
  }
  return measure.rule;
}

/** a missed limit lies above the value or below it */
function missedSide(measure: Measure): string {
  const limit = measure.limit, value = typeof measure.value === 'number' ? Math.abs(measure.value) : NaN;
  const below = Array.isArray(limit) ? value < limit[0] : (measure.rule ?? '').trim().startsWith('>');
  return below ? 'below' : 'over';
}

function marginText(measure: Measure): string {
  if (measure.margin === null) {
    return '';
  }
  return measure.margin >= 0 ? `${percent(measure.margin)} to spare` : `${percent(-measure.margin)} ${missedSide(measure)}`;
}

function contributionList(measure: Measure, store: Store): HTMLElement | null {
  if (measure.contributions.length === 0) {
    return null;
  }
  const whole = measure.contributions.reduce((sum, c) => sum + c.value, 0) || 1;
  let shade = 0;
  return h('table', { class: 'contributions' },
    h('caption', {}, 'made of'),
    h('tbody', {}, ...measure.contributions.map((c) => {
      const i = c.value > 0 ? shade++ % 6 : -1;
      return h('tr', {},
        h('td', {}, s('svg', { viewBox: '0 0 14 10', class: 'key', 'aria-hidden': 'true' },
          i >= 0 ? s('rect', { width: 14, height: 10, class: `segment segment-${i}` }) : null)),
        h('th', { scope: 'row' }, c.cause),
        h('td', { class: 'number' }, show(c.value, measure.unit, store.system)),
        h('td', { class: 'number' }, percent(c.value / whole)));
    })));
}

function more(measure: Measure, info: MeasureInfo | undefined, store: Store): HTMLElement {
  const lines: string[] = [];
  if (measure.at) {
    lines.push(`largest at azimuth ${show(measure.at.value, 'deg')}`);
  }
  if (measure.least !== undefined) {
    lines.push(`smallest ${show(measure.least, measure.unit, store.system)}`);
  }
  if (measure.band) {
    lines.push(`between ${show(measure.band[0], measure.unit, store.system)} and ${show(measure.band[1], measure.unit, store.system)}`);
  }
  if (measure.searched_to) {
    lines.push(`looked for up to ${show(measure.searched_to.value, measure.searched_to.unit)}`);
  }
  return h('div', { class: 'more' },
    info ? h('p', {}, info.help) : null,
    measure.why ? h('p', {}, measure.why) : null,
    measure.note && measure.met === null ? h('p', {}, measure.note) : null,
    lines.length ? h('p', {}, lines.join('; ')) : null,
    contributionList(measure, store),
    h('p', { class: 'quiet' }, `rests on: ${measure.basis}`, info ? ` · docs/models/${info.section}` : ''));
}

/** One measure. What is open is drawn with every change; what is folded away when the figures have
 *  settled, or when it is opened. */
class Row {
  readonly element: HTMLDetailsElement;
  private readonly summary = h('summary', {});
  private measure: Measure | null = null;
  private shown = '';
  private filled = '';

  constructor(private readonly name: string, private readonly store: Store) {
    this.element = h('details', { 'data-measure': name, toggle: () => this.element.open && this.fill() }, this.summary);
  }

  draw(measure: Measure): void {
    const { store } = this;
    const before = store.before?.check.measures[this.name];
    const shows = JSON.stringify([measure, before?.value, store.system]);
    if (shows !== this.shown) {
      if (store.source.report) {
        this.element.open = measure.contributions.length > 0 && measure.met !== null;
      }
      this.shown = shows;
      this.measure = measure;
      this.sum(measure, before);
    }
    if (this.element.open || store.phase === 'settled') {
      this.fill();
    }
  }

  /** its place is kept while the figure is being computed */
  wait(): void {
    const text = this.store.evaluation?.check.refining ? 'being computed' : 'not computed';
    if (this.shown !== text) {
      this.shown = text;
      this.measure = null;
      this.element.className = 'measure waiting';
      replace(this.summary, s('svg', { viewBox: '0 0 14 14', class: 'sign', 'aria-hidden': 'true' }, s('path', { d: 'M3 7H11', class: 'sign-none' })),
        h('span', { class: 'measure-name' }, words(this.name)), h('span', { class: 'measure-value' }, '…'),
        h('span', { class: 'measure-limit' }, text), h('span', { class: 'measure-margin' }));
    }
  }

  private sum(measure: Measure, before: Measure | undefined): void {
    const { store } = this;
    const [number, unit] = valueText(this.name, measure, store);
    const old = change(this.name, measure, before, store);
    const limit = limitText(measure, store);
    this.element.className = `measure ${metWords(measure).replace(' ', '-')}`;
    replace(this.summary,
      sign(measure),
      h('span', { class: 'measure-name' }, words(this.name)),
      h('span', { class: 'measure-value' }, h('span', { class: 'number' }, number), ' ', h('span', { class: 'unit' }, unit)),
      h('span', { class: 'hidden' }, `, ${metWords(measure)}`),
      ruler(measure, before),
      h('span', { class: 'measure-limit' }, limit, limit && measure.met === false ? h('b', {}, ' not met') : null),
      h('span', { class: 'measure-margin' }, old ? h('span', { class: 'was' }, old, ' ') : null, marginText(measure)),
      measure.note && measure.met !== null ? h('span', { class: 'measure-note' }, measure.note) : null);
  }

  private fill(): void {
    if (this.filled !== this.shown) {
      this.filled = this.shown;
      const info = this.store.design?.measures.find((m) => m.name === this.name);
      replace(this.element, this.summary, this.measure ? more(this.measure, info, this.store) : null);
    }
  }
}

export class Ledger {
  readonly element = h('section', { class: 'ledger', 'aria-labelledby': 'ledger-title' });
  private readonly count = h('span', { class: 'count' });
  private readonly title = h('h2', { id: 'ledger-title' }, 'Requirements', this.count);
  private readonly othersTitle = h('summary', {});
  private readonly others: HTMLDetailsElement;
  private readonly rows = new Map<string, Row>();
  private drawn: unknown[] = [];
  private warned = '';
  private warning: HTMLElement | null = null;
  private judged: HTMLDetailsElement | null = null;

  constructor(private readonly store: Store, private readonly go: (field: string) => void) {
    this.others = h('details', { class: 'others', toggle: () => this.others.open && this.drawOthers() }, this.othersTitle);
    this.others.open = store.source.report;
  }

  draw(): void {
    const { store } = this;
    const check = store.evaluation?.check;
    if (!check) {
      replace(this.element, h('h2', { id: 'ledger-title' }, 'Requirements'), h('p', { class: 'quiet' }, 'Working…'));
      return;
    }
    /* what is asked for again while nothing is new is drawn already */
    const drawn = [store.evaluation, store.before, store.design, store.system, store.phase === 'settled', this.state()?.textContent];
    if (drawn.every((d, i) => d === this.drawn[i]) && this.drawn.length > 0) {
      return;
    }
    this.drawn = drawn;
    const names = store.evaluation?.requirements ?? [];
    const met = names.filter((n) => check.measures[n]?.met === true).length;
    this.count.textContent = names.length ? `${met} of ${names.length} met` : 'none given';
    if (this.others.open || store.phase === 'settled') {
      this.drawOthers();
    }
    const verdict = check.verdict;
    const said = verdict && (verdict.state !== 'ok' || verdict.left_out.length > 0) ? h('p', { class: 'stale' }, verdict.sentence) : null;
    arrange(this.element, [this.title, this.state(), said, ...names.map((n) => this.row(n)),
      names.length === 0 ? h('p', { class: 'quiet' }, 'This design states no requirements yet: add some under requirements in the file.') : null,
      this.warnings(), this.others, this.notJudged()]);
  }

  private row(name: string): HTMLElement {
    const measure = this.store.evaluation?.check.measures[name];
    const row = this.rows.get(name) ?? new Row(name, this.store);
    this.rows.set(name, row);
    if (measure) {
      row.draw(measure);
    } else {
      row.wait();
    }
    return row.element;
  }

  /** what nobody asked for; of what comes later the place is kept once it has been there */
  private drawOthers(): void {
    const { evaluation } = this.store;
    const asked = new Set(evaluation?.requirements ?? []);
    const known = evaluation?.check.measures ?? {};
    const refining = evaluation?.check.refining === true;
    const names = (this.store.design?.measures ?? []).map((m) => m.name)
      .filter((n) => !asked.has(n) && (known[n] || (refining && this.rows.has(n))));
    this.othersTitle.textContent = `${names.length} further figures`;
    arrange(this.others, [this.othersTitle, ...names.map((n) => this.row(n))]);
  }

  private state(): HTMLElement | null {
    const phase = this.store.phase;
    if (phase === 'failed') {
      return h('p', { class: 'stale', role: 'status' }, 'These are the figures of the last values that could be read.');
    }
    if (phase === 'offline') {
      return h('p', { class: 'stale', role: 'status' }, 'The server does not answer; these are its last figures.');
    }
    return null;
  }

  /** what no figure here speaks of, so that nobody reads it in */
  private notJudged(): HTMLElement | null {
    const list = this.store.evaluation?.check.not_judged ?? [];
    if (!this.judged && list.length > 0) {
      this.judged = h('details', { class: 'others not-judged' }, h('summary', {}, 'Not judged here'),
        h('dl', {}, ...list.flatMap((one) => [h('dt', {}, one.what), h('dd', {}, one.why)])));
      this.judged.open = this.store.source.report;
    }
    return list.length > 0 ? this.judged : null;
  }

  private warnings(): HTMLElement | null {
    const list = this.store.evaluation?.check.warnings ?? [];
    const warned = JSON.stringify(list);
    if (warned !== this.warned) {
      this.warned = warned;
      this.warning = list.length === 0 ? null : h('div', { class: 'warnings' },
        h('h3', {}, list.length === 1 ? 'One thing to look at' : `${list.length} things to look at`),
        h('ul', {}, ...list.map((w) => h('li', {}, w.text, ' ',
          w.field && !this.store.source.report
            ? h('button', { type: 'button', class: 'link', click: () => this.go(w.field) }, w.field)
            : w.field ? h('code', {}, w.field) : null))));
    }
    return this.warning;
  }
}
