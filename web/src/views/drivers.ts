// drivers.ts: which value moves which requirement, and which way.
import { h, path, s } from '../dom';
import { ruleWords, words } from '../format';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { quoted, type Study } from './study';
import { rulesOf } from './vary';
import { listAt, numberAt, textAt } from './view';

interface Moves { field: string; by: (number | null)[] }

/** under half a thousandth of the limit nothing is said */
const QUIET = 5e-4;
const SHOWN = 8;

function signed(share: number): string {
  const size = Math.abs(100 * share);
  return `${share < 0 ? '−' : '+'}${size >= 100 ? size.toFixed(0) : size.toFixed(1)} %`;
}

/** from the middle: to the right it gains, to the left it loses */
function bar(share: number, most: number): SVGElement {
  const width = (90 * Math.abs(share)) / most;
  return s('svg', { viewBox: '0 0 200 16', class: 'signed-bar', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
    s('rect', { x: share < 0 ? 100 - width : 100, y: 3, width, height: 10, class: share < 0 ? 'bar-loses' : 'bar-gains' }),
    s('path', { d: 'M100 0V16', class: 'bar-middle' }));
}

/** what is not known is not nothing */
function unknownText(unknown: number): string | null {
  return unknown > 0 ? `For ${unknown} ${unknown > 1 ? 'values' : 'value'} it is not known: the figure ends beside the design.` : null;
}

function ofRequirement(title: string, text: string, g: number, all: Moves[]): HTMLElement {
  const moving = all.filter((m) => Math.abs(m.by[g] ?? 0) >= QUIET).sort((a, b) => Math.abs(b.by[g] ?? 0) - Math.abs(a.by[g] ?? 0));
  const most = Math.abs(moving[0]?.by[g] ?? 1);
  const rest = moving.length - SHOWN;
  const unknown = unknownText(all.filter((m) => m.by[g] === null).length);
  return h('section', { class: 'driver' }, h('h3', {}, title, h('span', { class: 'quiet' }, ` ${ruleWords(text)}`)),
    moving.length === 0 ? h('p', { class: 'quiet' }, 'No value of which it is known moves it by 0.05 % of its limit.') : null,
    h('ol', { class: 'driver-list' }, ...moving.slice(0, SHOWN).map((m) => {
      const share = m.by[g] ?? 0;
      return h('li', {}, h('span', { class: 'driver-field' }, ...path(m.field)), bar(share, most), h('span', { class: 'number' }, signed(share)), h('span', { class: 'hidden' }, share < 0 ? 'loses margin' : 'gains margin'));
    })),
    rest > 0 ? h('p', { class: 'quiet' }, `${rest} more move it less.`) : null,
    unknown ? h('p', { class: 'quiet' }, unknown) : null);
}

const letter = (g: number): string => String.fromCharCode(65 + g);

/** letters for the requirements: so it fits on paper and on a phone */
function wholeTable(all: Moves[], names: string[], report: boolean): HTMLElement {
  const moving = all.filter((m) => m.by.some((b) => b === null || Math.abs(b) >= QUIET));
  const details = h('details', { class: 'figures-table' }, h('summary', {}, 'every value against every requirement'),
    h('ul', { class: 'letters' }, ...names.map((n, g) => h('li', {}, h('b', {}, letter(g)), ` ${n}`))),
    h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': 'every value against every requirement' },
      h('table', { class: 'interdependence' }, h('caption', {}, 'Change of the margin by one tolerance upwards, in % of the limit'),
        h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'value'), ...names.map((n, g) => h('th', { scope: 'col', class: 'number' }, h('abbr', { title: n }, letter(g)))))),
        h('tbody', {}, ...moving.map((m) => h('tr', {}, h('th', { scope: 'row' }, ...path(m.field)), ...m.by.map((b) => h('td', { class: 'number' }, b === null ? '?' : Math.abs(b) < QUIET ? '·' : signed(b).replace(' %', '')))))))),
    all.length > moving.length ? h('p', { class: 'quiet' }, `${all.length - moving.length} more move no margin by 0.05 %.`) : null);
  details.open = report;
  return details;
}

// ---- shares of the scatter ----------------------------------------------------------------------

function scatter(document: ViewDocument, g: number, name: string): HTMLElement | null {
  const every = listAt(document, 'fields').map((f) => ({ field: textAt(f, 'field'), entry: listAt(f, 'requirements')[g] }));
  /* from few rows the share alone is so coarse that its range says more than its value */
  const rows = every.filter((r) => (numberAt(r.entry, 'total', 'value') ?? 0) >= 0.02 || (numberAt(r.entry, 'first', 'low') ?? 0) > 0)
    .sort((a, b) => (numberAt(b.entry, 'total', 'value') ?? 0) - (numberAt(a.entry, 'total', 'value') ?? 0));
  if (rows.length === 0) {
    return null;
  }
  const share = (entry: unknown, kind: string): string => {
    const at = (k: string): string => (100 * (numberAt(entry, kind, k) ?? 0)).toFixed(0).replace(/^-0$/, '0').replace('-', '−');
    return `${at('value')} % (${at('low')} … ${at('high')} %)`;
  };
  const picture = (entry: unknown): SVGElement => {
    const first = Math.min(1, Math.max(0, numberAt(entry, 'first', 'value') ?? 0)), total = Math.min(1, Math.max(0, numberAt(entry, 'total', 'value') ?? 0));
    return s('svg', { viewBox: '0 0 100 16', class: 'signed-bar', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
      s('rect', { x: 0, y: 2.5, width: 100 * total, height: 11, class: 'share-total' }), s('rect', { x: 0, y: 5, width: 100 * first, height: 6, class: 'share-found' }));
  };
  return h('section', { class: 'driver' }, h('h3', {}, `Share of the scatter of ${name}`),
    h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': `share of the scatter of ${name}` },
      h('table', {}, h('thead', {}, h('tr', {}, ...['value', '', 'alone', 'with all its interactions'].map((t) => t ? h('th', { scope: 'col' }, t) : h('td', {})))),
        h('tbody', {}, ...rows.map((r) => h('tr', {}, h('th', { scope: 'row' }, r.field), h('td', { class: 'bar-cell' }, picture(r.entry)), h('td', {}, share(r.entry, 'first')), h('td', {}, share(r.entry, 'total'))))))),
    every.length > rows.length ? h('p', { class: 'quiet' }, `${every.length - rows.length} more under 2 %.`) : null);
}

function movesOf(document: ViewDocument): Moves[] {
  const largest = (m: Moves): number => Math.max(0, ...m.by.map((b) => Math.abs(b ?? 0)));
  return listAt(document, 'fields').map((f) => ({ field: textAt(f, 'field'), by: listAt(f, 'requirements').map((r) => numberAt(r, 'moves')) })).sort((a, b) => largest(b) - largest(a));
}

export const drivers: Study = {
  id: 'drivers',
  title: 'Drivers',
  about: 'Which value moves which requirement: what one tolerance upwards (1 % where there is none) does to its margin. The topmost is where a tighter tolerance, or a better measured value, pays most.',
  questions: () => [{ name: 'global', label: 'shares of the scatter from', kind: 'number', value: '0', least: 0, most: 4096, hint: 'rows; 0: none, 256 is a start; each takes as many builds as values vary' }],
  ask: (answers): Record<string, unknown> => (Number(answers['global']) > 0 ? { global: Number(answers['global']) } : {}),
  command: (answers, store) => `tripwright drivers ${quoted(store.design?.file ?? '')}${Number(answers['global']) > 0 ? ` --global ${answers['global']}` : ''}`,
  draw(store: Store, document) {
    const rules = rulesOf(document);
    const names = rules.map((r) => words(r.measure));
    const all = movesOf(document);
    const rows = numberAt(document, 'rows') ?? 0;
    return [
      h('p', { class: 'quiet' }, 'To the right: the requirement gains margin when the value grows by its tolerance. To the left, dashed: it loses.'),
      h('div', { class: 'driver-grid' }, ...rules.map((r, g) => ofRequirement(names[g] ?? '', r.text, g, all))),
      ...(rows > 0 ? rules.map((_, g) => scatter(document, g, names[g] ?? '')) : []),
      rows > 0 ? h('p', { class: 'quiet' }, `Shares from ${rows} rows, at least ${textAt(document, 'used')} of them usable; 95 % intervals.`) : null,
      wholeTable(all, names, store.source.report),
    ].filter((n): n is HTMLElement => n !== null);
  },
};
