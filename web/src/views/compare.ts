// compare.ts: the design as saved, as tried, and others of the same folder side by side.
import { h, s } from '../dom';
import { percent, show, words } from '../format';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { quoted, type Question, type Study } from './study';
import { listAt, numberAt, textAt } from './view';

function siblings(store: Store): string[] {
  return store.design?.siblings ?? [];
}

function chosen(answers: Record<string, string>): string[] {
  return Object.entries(answers).filter(([name, value]) => name.startsWith('file:') && value).map(([name]) => name.slice(5));
}

/** saved, tried, then the files by name: two variants of one file can only be those */
function heads(document: ViewDocument): string[] {
  const files = listAt(document, 'variants').map((v) => textAt((v as Record<string, unknown>)['design'], 'file').replace(/^.*\//, ''));
  return files.map((f, i) => (i === 0 ? 'saved' : f === files[0] ? 'tried' : f));
}

function value(one: unknown, store: Store): string {
  const v = (one as Record<string, unknown>)['value'];
  return typeof v === 'number' ? show(v, textAt(one, 'unit'), store.system) : typeof v === 'string' ? v : textAt(one, 'state').replace(/_/g, ' ');
}

/** gained or lost against the first, and whether a requirement is missed: a sign beside a word */
function cell(one: unknown, store: Store): HTMLElement {
  const gained = numberAt(one, 'gained') ?? 0;
  const missed = (one as Record<string, unknown>)['met'] === false;
  return h('td', { class: `number${gained > 0 ? ' is-better' : gained < 0 ? ' is-worse' : ''}` }, value(one, store),
    h('span', { class: 'compare-sign' }, gained > 0 ? ' ▲' : gained < 0 ? ' ▼' : '', gained ? h('span', { class: 'hidden' }, gained > 0 ? ' gained' : ' lost') : null),
    missed ? h('span', { class: 'trips compare-missed' }, s('svg', { viewBox: '0 0 14 14', class: 'sign', 'aria-hidden': 'true' }, s('path', { d: 'M7 1.6L12.6 12H1.4Z', class: 'sign-unmet' })), 'not met') : null);
}

function measureTable(caption: string, names: string[], rows: unknown[], store: Store): HTMLElement {
  return h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': caption }, h('table', { class: 'compare' }, h('caption', {}, caption),
    h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'measure'), ...names.map((n) => h('th', { scope: 'col', class: 'number' }, n)))),
    h('tbody', {}, ...rows.map((r) => h('tr', { 'data-measure': textAt(r, 'measure') }, h('th', { scope: 'row' }, words(textAt(r, 'measure'))), ...listAt(r, 'variants').map((v) => cell(v, store)))))));
}

/** requirements that this level leaves out: neither met nor missed */
function notJudged(names: string[], variants: unknown[]): HTMLElement[] {
  return variants.flatMap((v, i) => {
    const left = listAt((v as Record<string, unknown>)['verdict'], 'left_out');
    return left.length ? [h('p', { class: 'stale' }, `Not judged in ${names[i] ?? ''}: ${left.map((n) => words(String(n))).join(', ')}.`)] : [];
  });
}

function overview(names: string[], variants: unknown[]): HTMLElement {
  const rows: [string, (v: unknown) => string][] = [
    ['requirements met', (v) => `${textAt(v, 'met')} of ${textAt(v, 'asked')}`],
    ['smallest margin', (v) => { const m = numberAt(v, 'margin'); return m === null ? 'none' : `${m < 0 ? '−' : '+'}${percent(Math.abs(m))}`; }],
    ['good of a batch', (v) => { const y = (v as Record<string, unknown>)['yield']; return y ? `${percent(numberAt(y, 'share') ?? 0)} (${percent(numberAt(y, 'low') ?? 0)} … ${percent(numberAt(y, 'high') ?? 0)})` : 'not drawn'; }],
    ['parts listed', (v) => textAt(v, 'parts')],
    ['operations', (v) => textAt(v, 'operations')],
    ['work', (v) => `${Number(((numberAt(v, 'work') ?? 0) / 3600).toPrecision(3))} h`],
    ['cost', (v) => textAt(v, 'cost')],
    ['wait for the slowest part', (v) => `${Number(((numberAt(v, 'lead_time') ?? 0) / 86400).toPrecision(3))} days`],
    ['not beaten in everything', (v) => ((v as Record<string, unknown>)['efficient'] === true ? 'yes' : 'no')],
  ];
  return h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': 'overview' }, h('table', { class: 'compare' },
    h('thead', {}, h('tr', {}, h('td', {}), ...names.map((n) => h('th', { scope: 'col', class: 'number' }, n)))),
    h('tbody', {}, ...rows.map(([name, of]) => h('tr', {}, h('th', { scope: 'row' }, name), ...variants.map((v) => h('td', { class: 'number' }, of(v))))))));
}

function sum(names: string[], rows: unknown[], which: number): HTMLElement {
  const by = (sign: number): string[] => rows.filter((r) => Math.sign(numberAt(listAt(r, 'variants')[which], 'gained') ?? 0) === sign).map((r) => words(textAt(r, 'measure')));
  const list = (all: string[]): string => (all.length > 6 ? `${all.slice(0, 6).join(', ')} and ${all.length - 6} more` : all.join(', '));
  const won = by(1), lost = by(-1);
  return h('p', {}, h('b', {}, `${names[which]}: `), won.length || lost.length ? `${won.length ? `gains in ${list(won)}` : 'gains in nothing'}; ${lost.length ? `loses in ${list(lost)}` : 'loses in nothing'}.` : 'no figure differs by more than a thousandth.');
}

export const compare: Study = {
  id: 'compare',
  title: 'Compare',
  about: 'The design as it is saved against what is tried here, and against other designs of the same folder: every figure side by side, gained and lost against the saved one.',
  /* as the requirements beside it */
  level: { azimuths: '24', timed: 'yes', map: 'yes' },
  questions(store) {
    return [
      ...siblings(store).map((name): Question => ({ name: `file:${name}`, label: name, kind: 'check', value: '' })),
      { name: 'builds', label: 'builds of each, for the share that is good', kind: 'number', value: '0', least: 0, most: 100000, hint: '0: none', more: true },
    ];
  },
  ask: (answers): Record<string, unknown> => ({ ...(chosen(answers).length ? { files: chosen(answers) } : {}), ...(Number(answers['builds']) > 0 ? { builds: Number(answers['builds']) } : {}) }),
  command(answers, store) {
    const file = store.design?.file ?? '';
    return `tripwright compare ${[file, ...(store.changed ? ['TRIED.yaml'] : []), ...chosen(answers)].map(quoted).join(' ')}${Number(answers['builds']) > 0 ? ` --builds ${answers['builds']}` : ''}`;
  },
  draw(store, document) {
    const names = heads(document);
    const rows = listAt(document, 'measures');
    const ruled = (r: unknown): boolean => listAt(r, 'variants').some((v) => (v as Record<string, unknown>)['rule'] !== null && (v as Record<string, unknown>)['rule'] !== undefined);
    const differs = (r: unknown): boolean => listAt(r, 'variants').some((v) => (numberAt(v, 'gained') ?? 0) !== 0 || value(v, store) !== value(listAt(r, 'variants')[0], store));
    const rest = rows.filter((r) => !ruled(r));
    const moved = rest.filter(differs), same = rest.filter((r) => !differs(r));
    return [
      ...names.slice(1).map((_, i) => sum(names, rows, i + 1)),
      ...notJudged(names, listAt(document, 'variants')),
      overview(names, listAt(document, 'variants')),
      measureTable('Requirements', names, rows.filter(ruled), store),
      moved.length ? measureTable('Other figures that differ', names, moved, store) : null,
      same.length ? h('details', { class: 'figures-table' }, h('summary', {}, `${same.length} figures that do not differ`), measureTable('Figures that do not differ', names, same, store)) : null,
      h('p', { class: 'quiet' }, '▲ gained, ▼ lost against the saved design; the open triangle: a requirement that is missed.'),
    ].filter((n): n is HTMLElement => n !== null);
  },
};
