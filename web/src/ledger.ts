// ledger.ts: the requirements, always in view: value, limit, margin, and what a figure is made of.
import { h, replace, s } from './dom';
import { parts, percent, show, words } from './format';
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

function valueText(measure: Measure, store: Store): [string, string] {
  if (typeof measure.value === 'string') {
    return [measure.value, ''];
  }
  if (measure.value === null) {
    return [measure.state.replace(/_/g, ' '), ''];
  }
  return parts(measure.value, measure.unit, store.system);
}

function change(measure: Measure, before: Measure | undefined, store: Store): string {
  if (!before || before.value === measure.value) {
    return '';
  }
  const [number, unit] = valueText(before, store);
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

function marginText(measure: Measure): string {
  if (measure.margin === null) {
    return '';
  }
  return measure.margin >= 0 ? `${percent(measure.margin)} to spare` : `${percent(-measure.margin)} over`;
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
    measure.note ? h('p', {}, measure.note) : null,
    lines.length ? h('p', {}, lines.join('; ')) : null,
    contributionList(measure, store),
    h('p', { class: 'quiet' }, `rests on: ${measure.basis}`, info ? ` · docs/models/${info.section}` : ''));
}

function row(name: string, measure: Measure, store: Store, open: Set<string>): HTMLElement {
  const before = store.before?.check.measures[name];
  const info = store.design?.measures.find((m) => m.name === name);
  const [number, unit] = valueText(measure, store);
  const old = change(measure, before, store);
  const limit = limitText(measure, store);
  const summary = h('summary', {},
    sign(measure),
    h('span', { class: 'measure-name' }, words(name)),
    h('span', { class: 'measure-value' }, h('span', { class: 'number' }, number), ' ', h('span', { class: 'unit' }, unit)),
    h('span', { class: 'hidden' }, `, ${metWords(measure)}`),
    ruler(measure, before),
    h('span', { class: 'measure-limit' }, limit, limit && measure.met === false ? h('b', {}, ' not met') : null),
    h('span', { class: 'measure-margin' }, old ? h('span', { class: 'was' }, old, ' ') : null, marginText(measure)));
  const details = h('details', { class: `measure ${metWords(measure).replace(' ', '-')}`, 'data-measure': name }, summary,
    more(measure, info, store));
  details.open = store.source.report ? measure.contributions.length > 0 && measure.met !== null : open.has(name);
  details.addEventListener('toggle', () => (details.open ? open.add(name) : open.delete(name)));
  return details;
}

export class Ledger {
  readonly element = h('section', { class: 'ledger', 'aria-labelledby': 'ledger-title' });
  private open = new Set<string>();
  private allOpen = false;

  constructor(private readonly store: Store, private readonly go: (field: string) => void) {}

  draw(): void {
    const { store } = this;
    const check = store.evaluation?.check;
    if (!check) {
      replace(this.element, h('h2', { id: 'ledger-title' }, 'Requirements'), h('p', { class: 'quiet' }, 'Working…'));
      return;
    }
    const names = store.evaluation?.requirements ?? [];
    const asked = names.filter((n) => check.measures[n]);
    const rest = Object.keys(check.measures).filter((n) => !asked.includes(n));
    const met = asked.filter((n) => check.measures[n]?.met === true).length;
    const others = h('details', { class: 'others' }, h('summary', {}, `${rest.length} further figures`),
      ...rest.map((n) => row(n, check.measures[n] as Measure, store, this.open)));
    others.open = this.allOpen || store.source.report;
    others.addEventListener('toggle', () => (this.allOpen = others.open));
    replace(this.element,
      h('h2', { id: 'ledger-title' }, 'Requirements', h('span', { class: 'count' }, names.length ? `${met} of ${names.length} met` : 'none given')),
      this.state(),
      ...asked.map((n) => row(n, check.measures[n] as Measure, store, this.open)),
      ...names.filter((n) => !check.measures[n]).map((n) => h('p', { class: 'quiet waiting' }, `${words(n)}: ${check.refining ? 'being computed' : 'not computed'}`)),
      names.length === 0 ? h('p', { class: 'quiet' }, 'This design states no requirements yet: add some under requirements in the file.') : null,
      this.warnings(),
      others);
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

  private warnings(): HTMLElement | null {
    const list = this.store.evaluation?.check.warnings ?? [];
    if (list.length === 0) {
      return null;
    }
    return h('div', { class: 'warnings' },
      h('h3', {}, list.length === 1 ? 'One thing to look at' : `${list.length} things to look at`),
      h('ul', {}, ...list.map((w) => h('li', {}, w.text, ' ',
        w.field && !this.store.source.report
          ? h('button', { type: 'button', class: 'link', click: () => this.go(w.field) }, w.field)
          : w.field ? h('code', {}, w.field) : null))));
  }
}
