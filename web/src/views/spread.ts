// spread.ts: a batch: how many are good, how each figure is spread, and what the failing ones share.
import { h, path, s } from '../dom';
import { between, parts, percent, ruleWords, share as shareText, show, words } from '../format';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { quoted, type Study } from './study';
import { listAt, numberAt, table, textAt } from './view';

// ---- how many are good --------------------------------------------------------------------------

const BAR = 240;

/** a ruler from 0 to 100 %: the share found, and the range in which it lies with 95 % certainty */
function shareBar(share: number, low: number, high: number): SVGElement {
  return s('svg', { viewBox: `0 0 ${BAR} 20`, class: 'share-bar', preserveAspectRatio: 'none', 'aria-hidden': 'true' },
    s('rect', { x: 0, y: 5, width: BAR * share, height: 10, class: 'share-found' }),
    s('rect', { x: 0.5, y: 5, width: BAR - 1, height: 10, class: 'share-frame' }),
    s('path', { d: `M${BAR * low} 10H${BAR * high}M${BAR * low} 3V17M${BAR * high} 3V17`, class: 'share-range' }));
}

function yieldRow(name: string, text: string, one: unknown, whole: boolean): HTMLElement {
  const share = numberAt(one, 'share'), low = numberAt(one, 'low') ?? 0, high = numberAt(one, 'high') ?? 1;
  return h('li', { class: whole ? 'yield whole' : 'yield' },
    h('span', { class: 'yield-name' }, name, text ? h('span', { class: 'quiet' }, ` ${ruleWords(text)}`) : null),
    h('b', { class: 'number' }, share === null ? '–' : shareText(share)),
    shareBar(share ?? 0, low, high),
    h('span', { class: 'quiet' }, `${textAt(one, 'good')} of ${textAt(one, 'builds')} (${between(shareText(low), shareText(high))})`));
}

// ---- how a figure is spread ---------------------------------------------------------------------

const WIDTH = 340;
const HEIGHT = 178;
const LEFT = 8;
const RIGHT = 8;
const BASE = 112;

interface Limit { least: number | null; most: number | null }

/** the axis: the numbers, and a limit as long as the numbers still take a quarter of it */
function reach(from: number, to: number, limit: Limit): [number, number] {
  let low = from, high = to;
  for (const edge of [limit.least, limit.most]) {
    if (edge !== null && Math.max(high, edge) - Math.min(low, edge) <= 4 * (to - from)) {
      low = Math.min(low, edge);
      high = Math.max(high, edge);
    }
  }
  const air = 0.06 * (high - low);
  return [low - air, high + air];
}

let patterns = 0;

function forbidden(svg: SVGElement, x: (v: number) => number, limit: Limit, low: number, high: number, label: (v: number) => string): void {
  const id = `beyond-${++patterns}`;
  svg.append(s('defs', {}, s('pattern', { id, width: 7, height: 7, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' }, s('path', { d: 'M0 0V7', class: 'hatch-line' }))));
  const edge = (at: number | null, below: boolean): void => {
    if (at === null) {
      return;
    }
    const word = below ? 'at least' : 'at most';
    if (at < low || at > high) {
      /* far away: said at the side on which it lies */
      const right = at > high;
      svg.append(s('text', { x: right ? WIDTH - RIGHT : LEFT, y: 14, 'text-anchor': right ? 'end' : 'start', class: 'small' }, right ? `${word} ${label(at)} →` : `← ${word} ${label(at)}`));
      return;
    }
    const place = x(at);
    const box = below ? [LEFT, place] : [place, WIDTH - RIGHT];
    svg.append(s('rect', { x: box[0] as number, y: 20, width: Math.max(0, (box[1] as number) - (box[0] as number)), height: BASE - 20, fill: `url(#${id})`, class: 'beyond' }),
      s('path', { d: `M${place} 18V${BASE}`, class: 'ruler-limit' }),
      s('text', { x: place, y: 14, 'text-anchor': place > WIDTH * 0.66 ? 'end' : place < WIDTH * 0.33 ? 'start' : 'middle', class: 'small' }, `${word} ${label(at)}`));
  };
  edge(limit.least, true);
  edge(limit.most, false);
}

/** the quantiles under the bars, each with the range in which it lies */
function quantileMarks(svg: SVGElement, x: (v: number) => number, one: unknown): void {
  for (const [row, q] of listAt(one, 'quantiles').entries()) {
    const value = numberAt(q, 'value'), low = numberAt(q, 'low'), high = numberAt(q, 'high');
    const y = BASE + 12 + 6 * row;
    if (low !== null && high !== null) {
      svg.append(s('path', { d: `M${x(low)} ${y}H${x(high)}`, class: 'quantile-range' }));
    }
    if (value !== null) {
      svg.append(s('path', { d: `M${x(value)} ${y - 3}V${y + 3}`, class: 'quantile' }, s('title', {}, `${Math.round(100 * (numberAt(q, 'p') ?? 0))} % of the builds stay under it`)));
    }
  }
}

function picture(one: unknown, limit: Limit, store: Store): SVGElement {
  const histogram = (one as Record<string, unknown>)['histogram'];
  const counts = listAt(histogram, 'counts').map(Number);
  const from = numberAt(histogram, 'from') ?? 0, to = numberAt(histogram, 'to') ?? 0;
  const unit = textAt(one, 'unit');
  const [low, high] = reach(from, to, limit);
  const x = (v: number): number => LEFT + ((WIDTH - LEFT - RIGHT) * (v - low)) / (high - low);
  const most = Math.max(...counts);
  const label = (v: number): string => show(v, unit, store.system);
  const svg = s('svg', { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: 'histogram', role: 'img', 'aria-label': `${words(textAt(one, 'name'))}: ${textAt(one, 'numbers')} builds from ${label(from)} to ${label(to)}` });
  forbidden(svg, x, limit, low, high, label);
  const step = (to - from) / counts.length;
  counts.forEach((count, i) => {
    const height = ((BASE - 24) * count) / most;
    const left = x(from + i * step), right = x(from + (i + 1) * step);
    svg.append(s('rect', { x: left + 0.4, y: BASE - height, width: Math.max(0.6, right - left - 0.8), height, class: 'class-bar' },
      s('title', {}, `${label(from + i * step)} to ${label(from + (i + 1) * step)}: ${count} builds`)));
  });
  svg.append(s('path', { d: `M${LEFT} ${BASE}H${WIDTH - RIGHT}`, class: 'ruler-base-line' }));
  quantileMarks(svg, x, one);
  const ends: [number, string][] = [[x(from), label(from)], [x(to), label(to)]];
  /* side by side if there is room */
  const apart = x(to) - x(from) > 130;
  ends.forEach(([at, text], i) => svg.append(s('text', { x: at, y: BASE + 46 + (apart ? 0 : 15 * i), 'text-anchor': at < 60 ? 'start' : at > WIDTH - 60 ? 'end' : 'middle', class: 'small' }, text)));
  return svg;
}

function quantileText(q: unknown, unit: string, store: Store): [string, string] {
  const text = (name: string): string => {
    const v = (q as Record<string, unknown>)[name];
    return typeof v === 'string' ? v.replace(/_/g, ' ') : show(numberAt(q, name), unit, store.system);
  };
  return [text('value'), (q as Record<string, unknown>)['low'] === null ? `an interval needs ${textAt(q, 'needed')} builds` : between(text('low'), text('high'))];
}

function oneMeasure(one: unknown, limit: Limit, store: Store): HTMLElement {
  const unit = textAt(one, 'unit');
  const odd = [['no_trip', 'do not trip'], ['tripped_at_rest', 'tripped at rest'], ['stuck', 'stuck once tripped'], ['does_not_rearm', 'do not re-arm'], ['no_answer', 'without an answer'], ['not_applicable', 'to which it does not apply']]
    .map(([k, text]) => [numberAt(one, k ?? '') ?? 0, text] as const).filter(([n]) => n > 0).map(([n, text]) => `${n} ${text}`);
  const drawn = (one as Record<string, unknown>)['histogram'] !== null;
  return h('figure', { class: 'spread-one', 'data-measure': textAt(one, 'name') }, h('figcaption', {}, words(textAt(one, 'name'))),
    drawn ? picture(one, limit, store) : h('p', { class: 'quiet' }, numberAt(one, 'mean') === null ? 'no numbers' : `always ${show(numberAt(one, 'mean'), unit, store.system)}`),
    odd.length ? h('p', { class: 'trips' }, `${odd.join(', ')}`) : null,
    drawn ? h('table', { class: 'quantiles' }, h('tbody', {}, ...listAt(one, 'quantiles').map((q) => {
      const [value, range] = quantileText(q, unit, store);
      return h('tr', {}, h('th', { scope: 'row' }, `${Math.round(100 * (numberAt(q, 'p') ?? 0))} % stay under`), h('td', { class: 'number' }, value), h('td', { class: 'quiet' }, range));
    }))) : null);
}

function limitOf(document: ViewDocument, name: string): Limit {
  const one = listAt(document['yield'], 'each').find((e) => textAt(e, 'measure') === name);
  return { least: numberAt(one, 'least'), most: numberAt(one, 'most') };
}

// ---- what the failing ones share ----------------------------------------------------------------

function failures(document: ViewDocument): Node[] {
  const list = listAt(document, 'failures');
  const why = document['impossible'];
  if (list.length === 0 && !why) {
    return [];
  }
  return [h('h3', {}, 'What the failed builds have in common'),
    h('ul', { class: 'failures' }, ...list.map((one) => {
      const fields = listAt(one, 'fields');
      const failing = numberAt(one, 'failing') ?? 0, all = failing === numberAt(document, 'builds');
      return h('li', {}, h('b', {}, words(textAt(one, 'measure'))), `: ${all ? 'every build' : failing === 1 ? 'one build' : `${failing} builds`}${fields.length || all ? '' : '; no value stands out by three standard errors'}`,
        fields.length ? h('ul', {}, ...fields.map((f) => h('li', {}, h('code', {}, textAt(f, 'field')), ` ${(numberAt(f, 'shift') ?? 0) > 0 ? 'large' : 'small'} by ${Math.abs(numberAt(f, 'shift') ?? 0).toFixed(1)} deviations`))) : null);
    }),
    why ? h('li', {}, `Build ${textAt(why, 'build')} has no answer at all: `, textAt(why, 'field') ? h('code', {}, textAt(why, 'field')) : null, textAt(why, 'field') ? ': ' : '', textAt(why, 'text')) : null)];
}

function varying(document: ViewDocument): unknown[] {
  return listAt(document, 'inputs').filter((i) => textAt(i, 'law') !== 'fixed');
}

/** what the machines of the shop do to the sizes */
function processes(document: ViewDocument): HTMLElement | null {
  const made = listAt(document, 'inputs').filter((i) => textAt(i, 'process'));
  return made.length === 0 ? null : table('made with the offsets of the processes (shop file)', ['field', 'process', 'offset', ''], made.map((i) => [
    textAt(i, 'field'), textAt(i, 'process'), textAt((i as Record<string, unknown>)['offset'], 'shown'), (i as Record<string, unknown>)['spread_of_process'] === true ? 'spread of the process' : '']));
}

function inputs(document: ViewDocument): HTMLElement {
  return h('details', { class: 'figures-table' }, h('summary', {}, `${varying(document).length} values vary`),
    table('what varies', ['field', 'law', 'now', 'less by', 'more by'], varying(document).map((i) => {
      const now = (i as Record<string, unknown>)['now'];
      const unit = textAt(now, 'unit');
      const side = (name: string): string => parts(numberAt(i, name), unit).join(' ').trim();
      return [textAt(i, 'field'), textAt(i, 'law'), textAt(now, 'shown'), side('minus'), side('plus')];
    })));
}

// ---- what can still be set right, and how far a quick level is off ------------------------------

/** by how much a value is turned, as its unit is shown once */
function turned(one: unknown): string {
  const shown = (name: string): string => textAt((one as Record<string, unknown>)[name], 'shown');
  const used = shown('lowest') ? `; used ${between(shown('lowest'), shown('highest'))}` : '';
  return `by −${shown('down')} … +${shown('up')} in steps of ${shown('step')}${used}`;
}

function winBack(document: ViewDocument): Node[] {
  const back = document['win_back'] as Record<string, unknown> | undefined;
  if (!back) {
    return [];
  }
  const list = listAt(back, 'adjustments');
  const unknown = numberAt(list[0], 'unknown') ?? 0;
  return [h('h3', {}, 'What can be set right at assembly'),
    h('p', { class: 'quiet' }, 'Good afterwards, if every requirement can be read while it is being set.', unknown > 0 ? ` ${unknown} without an answer are left as they are.` : ''),
    h('ol', { class: 'yields win-back' },
      back['as_built'] ? yieldRow('as built', '', back['as_built'], false) : null,
      ...list.flatMap((one) => [yieldRow(textAt(one, 'name'), '', one, false),
        h('li', { class: 'quiet turned' }, h('code', {}, ...path(textAt(one, 'field'))), ` ${turned(one)}`)]),
      back['together'] ? yieldRow('all of these', '', back['together'], true) : null,
      back['pairing'] ? yieldRow(`pairing discs with resistors in lots of ${textAt(back['pairing'], 'lot')}`, '', back['pairing'], false) : null),
    ...pairs(back['pairing'])];
}

/** which disc goes to which board, by the numbers of the builds */
function pairs(pairing: unknown): Node[] {
  const list = listAt(pairing, 'pairs');
  return list.length === 0 ? [] : [h('details', { class: 'figures-table' }, h('summary', {}, 'which disc to which board'),
    table('discs and boards, by the numbers of the builds', ['board', 'disc', 'every requirement'],
      list.map((one) => [textAt(one, 'board'), textAt(one, 'disc'), (one as { good?: unknown }).good === true ? 'met' : 'not met'])))];
}

function fastLevel(document: ViewDocument): Node[] {
  const fast = document['fast'];
  if (!fast) {
    return [];
  }
  const checked = numberAt(fast, 'checked') ?? 0, unseen = numberAt(fast, 'unseen') ?? 0;
  return [h('h3', {}, 'The tables against the engine'),
    h('p', {}, `${checked} builds of this batch were computed both ways; ${textAt(fast, 'judged_otherwise')} of ${checked - unseen} are judged otherwise. What can be set right at assembly is left out at this level.`,
      unseen > 0 ? h('b', {}, ` ${unseen} trip or answer otherwise than the middle of the batch, which the tables cannot see: use the engine.`) : ''),
    table('how far the tables are off', ['figure', 'half within', '95 of 100 within', 'all within'], listAt(fast, 'errors').map((one) => [
      words(textAt(one, 'measure')), ...['median', 'p95', 'largest'].map((name) => percent(numberAt(one, name) ?? 0).replace(' ', '\u00a0'))]))];
}

export const spread: Study = {
  id: 'spread',
  title: 'Spread',
  about: 'How many of a batch will be good with the tolerances of the file. Every value with a tolerance is drawn anew for each build; a build number of a seed is always the same build.',
  questions() {
    return [
      { name: 'builds', label: 'builds', kind: 'number', value: '200', least: 1, most: 100000 },
      { name: 'fast', label: 'from tables (for thousands of builds; says how far it is off)', kind: 'check', value: '' },
      { name: 'seed', label: 'seed', kind: 'number', value: '1', least: 0, most: 2147483647, hint: 'another seed is another batch', more: true },
      { name: 'as_built', label: 'leave out what can be set right at assembly', kind: 'check', value: '', more: true },
      { name: 'pair', label: 'pair discs with resistors in lots of', kind: 'number', value: '', least: 2, most: 200, hint: 'empty: do not pair', more: true },
    ];
  },
  ask: (answers) => ({ builds: Number(answers['builds']), ...(Number(answers['seed']) === 1 ? {} : { seed: Number(answers['seed']) }),
    ...(answers['fast'] ? { fast: true } : {}), ...(answers['as_built'] ? { as_built: true } : {}), ...(answers['pair'] ? { pair: Number(answers['pair']) } : {}) }),
  command: (answers, store) => `tripwright spread --builds ${answers['builds']} ${quoted(store.design?.file ?? '')}${Number(answers['seed']) === 1 ? '' : ` --seed ${answers['seed']}`}`
    + `${answers['fast'] ? ' --fast' : ''}${answers['as_built'] ? ' --as-built' : ''}${answers['pair'] ? ` --pair ${answers['pair']}` : ''}`,
  draw(store, document) {
    const each = listAt(document['yield'], 'each');
    const asked = each.map((e) => textAt(e, 'measure'));
    const measures = listAt(document, 'measures');
    const mine = measures.filter((m) => asked.includes(textAt(m, 'name')));
    const rest = measures.filter((m) => !asked.includes(textAt(m, 'name')));
    const coarse = document['coarseness'];
    const left = listAt(document['verdict'], 'left_out');
    const share = numberAt(coarse, 'share') ?? 0;
    return [
      ...(left.length ? [h('p', { class: 'stale' }, `Not judged: ${left.map((n) => words(String(n))).join(', ')}.`)] : []),
      h('p', {}, h('b', {}, `${textAt(document, 'builds')} builds of seed ${textAt(document, 'seed')}`), `; ${varying(document).length} values vary. The share that is good, and in brackets the range in which it lies with 95 % certainty:`),
      h('ol', { class: 'yields' },
        yieldRow('all of them', '', (document['yield'] as Record<string, unknown>)['all'], true),
        ...each.map((e) => yieldRow(words(textAt(e, 'measure')), textAt(e, 'text'), e, false))),
      ...winBack(document),
      processes(document),
      ...failures(document),
      h('div', { class: 'histograms' }, ...mine.map((m) => oneMeasure(m, limitOf(document, textAt(m, 'name')), store))),
      store.source.report || rest.length === 0 ? null : h('details', { class: 'figures-table' }, h('summary', {}, `${rest.length} further figures`),
        h('div', { class: 'histograms' }, ...rest.map((m) => oneMeasure(m, { least: null, most: null }, store)))),
      ...fastLevel(document),
      inputs(document),
      coarse ? h('p', { class: 'quiet' }, share < 1e-4 ? `For the design itself ${textAt(coarse, 'azimuths')} azimuths in fixed load steps are no different from 24 in fine ones (under 0.01 %).`
        : `For the design itself ${textAt(coarse, 'azimuths')} azimuths in fixed load steps are ${percent(share)} from 24 in fine ones in ${words(textAt(coarse, 'measure'))}, more than in any other requirement.`) : null,
    ].filter((n): n is Node => n !== null);
  },
};
