// vary.ts: one field over a range as a curve with its limit and crossings; two as a map with the
// edges on which requirements begin to hold.
import { Chart } from '../chart';
import { h, s } from '../dom';
import { axisUnit, key, percent, ruleWords, show, words, type System } from '../format';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { quoted, type Question, type Study } from './study';
import { listAt, numberAt, table, textAt } from './view';

const MARGIN = 'margin';

/** fields that have a number now */
function numericFields(store: Store): string[] {
  return (store.design?.fields ?? []).filter((f) => ['quantity', 'number', 'count'].includes(f.type) && store.value(f.path)?.applies !== false && /\d/.test(store.value(f.path)?.shown ?? '')).map((f) => f.path);
}

/** half to one and a half times what stands in the design; [] when it is no plain number */
export function aroundNow(shown: string): string[] {
  const found = /^\s*([-+]?[\d.]+(?:e[-+]?\d+)?)\s*([^±+\d\s][^±+]*?)?\s*(?:[±+].*)?$/i.exec(shown);
  const value = Number(found?.[1]);
  const unit = found?.[2]?.trim() ?? '';
  if (!found || !Number.isFinite(value) || value === 0) {
    return [];
  }
  const ends = [0.5 * value, 1.5 * value].sort((a, b) => a - b).map((v) => `${Number(v.toPrecision(3))}${unit ? ` ${unit}` : ''}`);
  return ends;
}

function rangeQuestions(store: Store, fields: string[], first: string, which: '' | '2'): Question[] {
  const ends = which ? [] : aroundNow(store.value(first)?.shown ?? '');
  return [
    { name: `field${which}`, label: which ? 'and a second field (a map)' : 'field', kind: 'text', value: first, offers: fields,
      change: (path, set) => {
        const [from, to] = aroundNow(store.value(path)?.shown ?? '');
        set(`from${which}`, from ?? '');
        set(`to${which}`, to ?? '');
      } },
    { name: `from${which}`, label: 'from', kind: 'text', short: true, value: ends[0] ?? '' },
    { name: `to${which}`, label: 'to', kind: 'text', short: true, value: ends[1] ?? '' },
  ];
}

function measureChoice(store: Store): Question {
  const asked = store.evaluation?.requirements ?? [];
  const rest = (store.design?.measures ?? []).map((m) => m.name).filter((n) => !asked.includes(n) && store.design?.measures.find((m) => m.name === n)?.unit !== 'word');
  const numbers = asked.filter((n) => store.design?.measures.find((m) => m.name === n)?.unit !== 'word');
  return { name: 'show', label: 'shown', kind: 'select', look: true, value: numbers[0] ?? MARGIN,
    options: [...numbers, MARGIN, ...rest].map((n): [string, string] => [n, n === MARGIN ? 'smallest margin' : words(n)]) };
}

interface Rule { measure: string; text: string; least: number | null; most: number | null }

export function rulesOf(document: ViewDocument): Rule[] {
  return listAt(document, 'requirements').map((r) => ({ measure: textAt(r, 'measure'), text: textAt(r, 'text'), least: numberAt(r, 'least'), most: numberAt(r, 'most') }));
}

/** factor and unit of a value of a field: radians are read in degrees */
function inputUnit(values: (number | null)[], unit: string, system: System): [number, string] {
  const most = Math.max(...values.map((v) => Math.abs(v ?? 0)), 0);
  return unit === 'rad' ? [180 / Math.PI, 'deg'] : axisUnit(most, unit, system);
}

function valueAt(point: unknown, measure: string): number | null {
  return measure === MARGIN ? numberAt(point, 'margin') : numberAt(point, 'measures', measure);
}

/** computed at all? a point that is still to come has no state but "none" */
function known(point: unknown): boolean {
  const measures = Object.values(((point as Record<string, unknown>)['measures'] as Record<string, unknown>) ?? {});
  return measures.some((m) => textAt(m, 'state') !== 'none');
}

// ---- one field ----------------------------------------------------------------------------------

function curve(store: Store, document: ViewDocument, measure: string): HTMLElement {
  const points = listAt(document, 'points');
  const field = textAt(document, 'field');
  const at = points.map((p) => numberAt(p, 'at'));
  const unit = textAt((points[0] as Record<string, unknown>)['at'], 'unit');
  const [xf, xUnit] = inputUnit(at, unit, store.system);
  const rule = rulesOf(document).find((r) => r.measure === measure);
  const values = points.map((p) => valueAt(p, measure));
  const limits = [rule?.least ?? null, rule?.most ?? null].filter((v): v is number => v !== null);
  const of = measure === MARGIN ? '%' : textAt(((points[0] as Record<string, unknown>)['measures'] as Record<string, unknown>)[measure], 'unit');
  const [yf, yUnit] = measure === MARGIN ? [100, '%'] : axisUnit(Math.max(...values.map((v) => Math.abs(v ?? 0)), ...limits.map(Math.abs)), of, store.system);
  const crossings = listAt(document, 'crossings').filter((c) => measure === MARGIN || textAt(c, 'measure') === measure);
  const now = numberAt(document, 'now');
  const inside = now !== null && now >= (at[0] ?? 0) && now <= (at[at.length - 1] ?? 0);
  const marks = [
    ...(inside ? [{ x: now * xf, label: 'now' }] : []),
    ...crossings.slice(0, 5).map((c) => ({ x: (numberAt(c, 'at') ?? 0) * xf, label: `${measure === MARGIN ? `${words(textAt(c, 'measure'))}: ` : ''}met ${textAt(c, 'met')} ${textAt((c as Record<string, unknown>)['at'], 'shown')}` })),
  ];
  /* the words stand at the end where the curve is farther from them */
  const far = (level: number): boolean => { const of = values.filter((v): v is number => v !== null); return Math.abs((of[0] ?? 0) - level) > Math.abs((of[of.length - 1] ?? 0) - level); };
  const levels = measure === MARGIN ? [{ value: 0, label: 'a requirement is missed below', atStart: far(0) }]
    : [...(rule?.most !== null && rule?.most !== undefined ? [{ value: rule.most * yf, label: `at most ${show(rule.most, of, store.system)}`, atStart: far(rule.most) }] : []),
       ...(rule?.least !== null && rule?.least !== undefined ? [{ value: rule.least * yf, label: `at least ${show(rule.least, of, store.system)}`, atStart: far(rule.least) }] : [])];
  const name = measure === MARGIN ? 'smallest margin' : words(measure);
  return new Chart({ label: `${name} over ${key(field)}`, x: `${words(field.replace('.', ': '))}${xUnit ? ` (${xUnit})` : ''}`, marks, range: [(at[0] ?? 0) * xf, (at[at.length - 1] ?? 1) * xf],
    panels: [{ title: name, unit: yUnit === '1' ? '' : yUnit, height: 240, levels, series: [{ name, style: 0, points: true,
      data: at.map((x, i): [number, number | null] => [(x ?? 0) * xf, values[i] === null || values[i] === undefined ? null : (values[i] as number) * yf]) }] }] }, store.source.report).element;
}

function crossingList(document: ViewDocument): HTMLElement {
  const list = listAt(document, 'crossings');
  const points = listAt(document, 'points').filter(known);
  return list.length === 0
    ? h('p', {}, points.every((p) => (p as Record<string, unknown>)['met'] === true) ? 'Every requirement is met over the whole range.' : 'No requirement begins or ceases to be met within this range.')
    : table('where requirements begin or cease to be met', ['requirement', 'limit', 'met'], list.map((c) => [words(textAt(c, 'measure')), ruleWords(textAt(c, 'text')), `${textAt(c, 'met')} ${textAt((c as Record<string, unknown>)['at'], 'shown')}`]));
}

function pointTable(store: Store, document: ViewDocument): HTMLElement {
  const rules = rulesOf(document);
  return h('details', { class: 'figures-table' }, h('summary', {}, 'as a table'),
    table('every point', [key(textAt(document, 'field')), ...rules.map((r) => words(r.measure)), 'missed most'], listAt(document, 'points').filter(known).map((p) => [
      textAt((p as Record<string, unknown>)['at'], 'shown'),
      ...rules.map((r) => figure(p, r.measure, store.system)),
      (p as Record<string, unknown>)['met'] === true ? 'none' : words(textAt(p, 'worst'))])));
}

function figure(point: unknown, measure: string, system: System): string {
  const one = ((point as Record<string, unknown>)['measures'] as Record<string, unknown>)[measure];
  const value = (one as Record<string, unknown> | undefined)?.['value'];
  return typeof value === 'boolean' ? (value ? 'yes' : 'no') : typeof value === 'number' ? show(value, textAt(one, 'unit'), system) : textAt(one, 'state').replace(/_/g, ' ');
}

// ---- two fields ---------------------------------------------------------------------------------

const LEFT = 84;
const RIGHT = 12;
const TOP = 12;
const BOTTOM = 56;
const STEPS = 6;

interface Grid { width: number; height: number; a: number[]; b: number[]; x: (a: number) => number; y: (b: number) => number }

/** where a value lies between neighbours, so that equal steps of the grid are equally wide */
function placing(values: number[], from: number, to: number): (v: number) => number {
  const n = values.length;
  return (v) => {
    let i = 0;
    while (i < n - 2 && v > (values[i + 1] as number)) {
      i++;
    }
    const low = values[i] as number, high = values[Math.min(i + 1, n - 1)] as number;
    const place = i + (high > low ? (v - low) / (high - low) : 0);
    return from + ((to - from) * (place + 0.5)) / n;
  };
}

interface Edge { a: number; b: number }

/** pieces of line through the grid's cells, from the places on their sides where the limit changes */
export function edgeLines(edges: Edge[], as: number[], bs: number[]): [Edge, Edge][] {
  const at = new Map<string, Edge>();
  for (const e of edges) {
    const i = as.indexOf(e.a), j = bs.indexOf(e.b);
    /* along the first field between i and i + 1 at b_j, or along the second at a_i */
    if (j >= 0 && i < 0) {
      at.set(`a${as.findIndex((v) => v > e.a) - 1},${j}`, e);
    } else if (i >= 0) {
      at.set(`b${i},${bs.findIndex((v) => v > e.b) - 1}`, e);
    }
  }
  const lines: [Edge, Edge][] = [];
  for (let i = 0; i + 1 < as.length; i++) {
    for (let j = 0; j + 1 < bs.length; j++) {
      const sides = [at.get(`a${i},${j}`), at.get(`b${i + 1},${j}`), at.get(`a${i},${j + 1}`), at.get(`b${i},${j}`)].filter((e): e is Edge => e !== undefined);
      for (let k = 0; k + 1 < sides.length; k += 2) {
        lines.push([sides[k] as Edge, sides[k + 1] as Edge]);
      }
    }
  }
  return lines;
}

function shadeOf(value: number, low: number, high: number): number {
  return high > low ? Math.min(STEPS - 1, Math.max(0, Math.floor((STEPS * (value - low)) / (high - low)))) : 0;
}

let patterns = 0;

function cells(svg: SVGElement, points: unknown[], grid: Grid, measure: string, store: Store, low: number, high: number, hatch: string): void {
  const w = (grid.width - LEFT - RIGHT) / grid.a.length, t = (grid.height - TOP - BOTTOM) / grid.b.length;
  points.forEach((p, n) => {
    const a = grid.a[Math.floor(n / grid.b.length)] as number, b = grid.b[n % grid.b.length] as number;
    const value = valueAt(p, measure);
    const there = known(p);
    const met = (p as Record<string, unknown>)['met'] === true;
    const at = (p as Record<string, unknown>)['at'] as unknown[];
    const box = { x: grid.x(a) - w / 2, y: grid.y(b) - t / 2, width: w, height: t };
    const about = s('title', {}, !there ? 'not computed yet' : `${textAt(at[0], 'shown')}, ${textAt(at[1], 'shown')}: ${measure === MARGIN ? (value === null ? 'no margin' : percent(value)) : figure(p, measure, store.system)}; ${met ? 'every requirement met' : `${words(textAt(p, 'worst'))} missed most`}`);
    svg.append(s('rect', { ...box, class: `map-cell ${!there ? 'shade-empty' : value === null ? 'shade-none' : `shade-${shadeOf(value, low, high)}`}` }, about));
    if (there && !met) {
      svg.append(s('rect', { ...box, fill: `url(#${hatch})`, class: 'map-missed' }));
    }
  });
}

function axes(svg: SVGElement, grid: Grid, document: ViewDocument, store: Store): void {
  const fields = listAt(document, 'fields').map(String);
  const points = listAt(document, 'points');
  const units = [0, 1].map((k) => textAt(((points[0] as Record<string, unknown>)['at'] as unknown[])[k], 'unit'));
  const [xf, xUnit] = inputUnit(grid.a, units[0] ?? '', store.system);
  const [yf, yUnit] = inputUnit(grid.b, units[1] ?? '', store.system);
  const every = (n: number, most: number): number => Math.max(1, Math.ceil(n / most));
  grid.a.forEach((v, i) => {
    if (i % every(grid.a.length, grid.width < 500 ? 4 : 7) === 0) {
      svg.append(s('text', { x: grid.x(v), y: grid.height - BOTTOM + 18, 'text-anchor': 'middle', class: 'small' }, String(Number((v * xf).toPrecision(3)))));
    }
  });
  grid.b.forEach((v, i) => {
    if (i % every(grid.b.length, 8) === 0) {
      svg.append(s('text', { x: LEFT - 8, y: grid.y(v) + 4, 'text-anchor': 'end', class: 'small' }, String(Number((v * yf).toPrecision(3)))));
    }
  });
  svg.append(s('text', { x: LEFT + (grid.width - LEFT - RIGHT) / 2, y: grid.height - 10, 'text-anchor': 'middle' }, `${words((fields[0] ?? '').replace('.', ': '))}${xUnit ? ` (${xUnit})` : ''}`),
    s('text', { transform: `translate(16 ${TOP + (grid.height - TOP - BOTTOM) / 2}) rotate(-90)`, 'text-anchor': 'middle' }, `${words((fields[1] ?? '').replace('.', ': '))}${yUnit ? ` (${yUnit})` : ''}`));
}

function map(store: Store, document: ViewDocument, measure: string): HTMLElement {
  const points = listAt(document, 'points');
  const counts = listAt(document, 'counts').map(Number);
  const at = points.map((p) => ((p as Record<string, unknown>)['at'] as unknown[]).map((v) => numberAt(v) ?? 0));
  const a = Array.from({ length: counts[0] ?? 0 }, (_, i) => at[i * (counts[1] ?? 1)]?.[0] ?? 0);
  const b = Array.from({ length: counts[1] ?? 0 }, (_, j) => at[j]?.[1] ?? 0);
  /* a phone gets a map of its own width, so that nothing is cut and no text shrinks */
  const [width, height] = window.innerWidth < 600 ? [344, 330] : [640, 430];
  const grid: Grid = { width, height, a, b, x: placing(a, LEFT, width - RIGHT), y: placing(b, height - BOTTOM, TOP) };
  const values = points.map((p) => valueAt(p, measure)).filter((v): v is number => v !== null);
  /* margins under -100 % and over 200 % say no more than these */
  const low = Math.max(Math.min(...values), measure === MARGIN ? -1 : -Infinity), high = Math.min(Math.max(...values), measure === MARGIN ? 2 : Infinity);
  const name = measure === MARGIN ? 'smallest margin' : words(measure);
  const rules = rulesOf(document);
  const svg = s('svg', { viewBox: `0 0 ${width} ${height}`, class: width < 500 ? 'study-map narrow' : 'study-map', role: 'img', 'aria-label': `${name} over two fields; hatched: a requirement is missed` });
  const hatch = `missed-${++patterns}`;
  svg.append(s('defs', {}, s('pattern', { id: hatch, width: 7, height: 7, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' }, s('path', { d: 'M0 0V7', class: 'hatch-line' }))));
  cells(svg, points, grid, measure, store, low, high, hatch);
  const drawn: Rule[] = [];
  rules.forEach((rule, k) => {
    const own = listAt(document, 'edges').filter((e) => textAt(e, 'measure') === rule.measure).map((e) => listAt(e, 'at')).map(([x, y]) => ({ a: numberAt(x) ?? 0, b: numberAt(y) ?? 0 }));
    const d = edgeLines(own, a, b).map(([p, q]) => `M${grid.x(p.a).toFixed(1)} ${grid.y(p.b).toFixed(1)}L${grid.x(q.a).toFixed(1)} ${grid.y(q.b).toFixed(1)}`).join('');
    if (d) {
      drawn.push(rule);
      svg.append(s('path', { d, class: 'edge-under' }), s('path', { d, class: `edge edge-${k % 6}` }));
    }
  });
  axes(svg, grid, document, store);
  nowMark(svg, grid, document, store);
  const unit = measure === MARGIN ? '' : store.design?.measures.find((m) => m.name === measure)?.unit ?? '';
  const border = (i: number): string => { const v = low + ((high - low) * i) / STEPS; return measure === MARGIN ? percent(v) : show(v, unit, store.system); };
  return h('figure', { class: 'study-map-figure' }, h('figcaption', {}, name), h('div', { class: 'map-holder', tabindex: 0, role: 'region', 'aria-label': `map of the ${name}` }, svg),
    h('div', { class: 'keys' }, ...drawn.map((r) => h('span', { class: 'key-entry' }, s('svg', { viewBox: '0 0 30 10', class: 'line-key', 'aria-hidden': 'true' }, s('path', { d: 'M1 5H29', class: `edge edge-${rules.indexOf(r) % 6}` })), `${words(r.measure)} ${ruleWords(r.text)}`)),
      h('span', { class: 'key-entry' }, s('svg', { viewBox: '0 0 22 12', class: 'key', 'aria-hidden': 'true' }, s('rect', { width: 22, height: 12, fill: `url(#${hatch})`, class: 'key-missed' })), 'a requirement is missed'),
      h('span', { class: 'key-entry' }, s('svg', { viewBox: '0 0 14 14', class: 'key', 'aria-hidden': 'true' }, s('path', { d: 'M7 1V13M1 7H13', class: 'now-mark' })), 'the design now')),
    values.length ? h('ol', { class: 'shade-key' }, ...Array.from({ length: STEPS }, (_, i) =>
      h('li', {}, s('svg', { viewBox: '0 0 22 12', class: 'key', 'aria-hidden': 'true' }, s('rect', { width: 22, height: 12, class: `shade-${i}` })), ` ${border(i)} – ${border(i + 1)}`))) : null);
}

/** a cross where the design stands, if both values are plain numbers within the map */
function nowMark(svg: SVGElement, grid: Grid, document: ViewDocument, store: Store): void {
  const now = listAt(document, 'now').map((n) => numberAt(n));
  const [a, b] = now;
  if (a === null || b === null || a === undefined || b === undefined || a < (grid.a[0] ?? 0) || a > (grid.a[grid.a.length - 1] ?? 0) || b < (grid.b[0] ?? 0) || b > (grid.b[grid.b.length - 1] ?? 0)) {
    return;
  }
  const x = grid.x(a), y = grid.y(b), d = `M${x} ${y - 9}V${y + 9}M${x - 9} ${y}H${x + 9}`;
  svg.append(s('path', { d, class: 'edge-under' }), s('path', { d, class: 'now-mark' }, s('title', {}, `the design as it is${store.changed ? ' tried' : ''}`)));
}

export const vary: Study = {
  id: 'vary',
  title: 'Vary',
  about: 'One value over a range: every figure, and where each requirement begins or ceases to be met. With a second value: a map. All else stays as it is.',
  questions(store) {
    const fields = numericFields(store);
    const first = ['preload.force', 'stylus.reach', 'support.ledge_radius'].find((f) => fields.includes(f)) ?? fields[0] ?? '';
    return [
      ...rangeQuestions(store, fields, first, ''), ...rangeQuestions(store, fields, '', '2'), measureChoice(store),
      { name: 'points', label: 'points of each range', kind: 'number', value: '', hint: '21; of two fields 11 each', least: 2, most: 201, more: true },
      { name: 'log', label: 'steps are ratios', kind: 'check', value: '', more: true },
    ];
  },
  ask(answers) {
    return { fields: rangesOf(answers), ...(answers['points'] ? { points: Number(answers['points']) } : {}), ...(answers['log'] ? { log: true } : {}) };
  },
  command(answers, store) {
    return `tripwright vary ${rangesOf(answers).map((r) => `--field ${quoted(r)} `).join('')}${quoted(store.design?.file ?? '')}${answers['points'] ? ` --points ${answers['points']}` : ''}${answers['log'] ? ' --log' : ''}`;
  },
  draw(store, document, answers) {
    const two = listAt(document, 'fields').length === 2;
    /* on paper nobody can choose: a map of the smallest margin has the edges of all requirements */
    const measure = store.source.report && two ? MARGIN : answers['show'] ?? MARGIN;
    if (measure !== MARGIN && !(measure in (((listAt(document, 'points')[0] as Record<string, unknown>)['measures'] as object) ?? {}))) {
      return [h('p', { class: 'stale' }, `${words(measure)} was not computed: tick “every figure” under more options and run again.`), ...(two ? [] : [crossingList(document)])];
    }
    if (two) {
      return [map(store, document, measure)];
    }
    const rules = rulesOf(document).filter((r) => r.least !== null || r.most !== null);
    const all = store.source.report ? [...rules.map((r) => r.measure)] : [measure];
    return [...all.map((m) => curve(store, document, m)), crossingList(document), pointTable(store, document)];
  },
};

function rangesOf(answers: Record<string, string>): string[] {
  const range = (which: string): string => `${answers[`field${which}`]}=${answers[`from${which}`]}..${answers[`to${which}`]}`.replace(/\s+/g, ' ');
  return answers['field2'] ? [range(''), range('2')] : [range('')];
}
