// crash.ts: what gives way when the machine does not stop: force against travel through the stages,
// how far each of them gives, what each part carries of what it can, and the figures as tables.
import { Chart, type Panel } from '../chart';
import { h } from '../dom';
import { axisUnit, missing, show } from '../format';
import type { Store } from '../store';
import { figures, listAt, numberAt, table, textAt, type View } from './view';

/** a travel or force of a rounding is none */
function length(row: unknown, name: string, store: Store): string {
  const v = numberAt(row, name);
  return v === null ? missing : Math.abs(v) < 1e-12 ? '0' : show(v, 'm', store.system);
}

function force(row: unknown, name: string): string {
  const v = numberAt(row, name);
  return v === null ? missing : Math.abs(v) < 1e-9 ? '0' : show(v, 'N');
}

function flag(row: unknown, name: string): boolean {
  return typeof row === 'object' && row !== null && (row as Record<string, unknown>)[name] === true;
}

function object(row: unknown, name: string): Record<string, unknown> {
  const at = typeof row === 'object' && row !== null ? (row as Record<string, unknown>)[name] : undefined;
  return typeof at === 'object' && at !== null ? (at as Record<string, unknown>) : {};
}

// ---- the picture --------------------------------------------------------------------------------

/** a thing keeps its colour, dash and marker in all panels */
const STYLE: Record<string, number> = { stem: 1, seat: 2, 'holder on its hold-down': 3, thread: 4, ceramic: 5, 'disc’s plate': 0 };
const styleOf = (name: string): number => STYLE[name.replace("'", '’')] ?? 0;

interface Mark { at: number; label: string }
interface Curve { travel: number[]; force: number[]; begin: number; end: number; unit: string; factor: number; marks: Mark[] }

/** where the machine stands, what gives, what fails, the end of the travel (a hair inside the axis, or it is not drawn) */
function marksOf(way: unknown, end: number): Mark[] {
  const marks: { at: number | null; label: string }[] = [
    { at: numberAt(way, 'overtravel'), label: 'a touch stops' },
    ...listAt(way, 'stages').filter((s) => (numberAt(s, 'gives_at') ?? 0) > 1e-9).map((s) => ({ at: numberAt(s, 'gives_at_travel'), label: `${textAt(s, 'name')} gives` })),
    ...listAt(way, 'stages').map((s) => ({ at: numberAt(s, 'limit_travel'), label: `${textAt(s, 'name')} at its stop` })),
    ...listAt(way, 'members').map((m) => ({ at: numberAt(m, 'fails_at_travel'), label: `${textAt(m, 'name')} fails` })),
    { at: numberAt(way, 'travel'), label: 'end of the travel' },
  ];
  return marks.flatMap(({ at, label }) => (at !== null && at > 0 && at <= end * (1 + 1e-6) ? [{ at: Math.min(at, end * (1 - 1e-9)), label }] : [])).sort((a, b) => a.at - b.at);
}

/** 1, 2 or 5 times a power of ten */
function roundBelow(x: number): number {
  const ten = 10 ** Math.floor(Math.log10(x));
  return ten * (x >= 5 * ten ? 5 : x >= 2 * ten ? 2 : 1);
}

/** Travel runs over four decades, from what the seat gives to what the holder gives: a logarithmic
 * axis that begins before the first mark, but not below a five-thousandth of its end. */
function curveOf(way: unknown, store: Store): Curve {
  const curve = object(way, 'curve');
  const travel = listAt(curve, 'travel').map(Number), newton = listAt(curve, 'force').map(Number);
  const end = travel[travel.length - 1] ?? 1;
  const marks = marksOf(way, end);
  const [factor, unit] = axisUnit(end, 'm', store.system);
  const begin = roundBelow(factor * Math.max(end / 5000, Math.min(end / 20, 0.7 * (marks[0]?.at ?? end)))) / factor;
  return { travel, force: newton, begin, end, unit, factor, marks: marks.filter((m) => m.at >= begin) };
}

/** a curve from the beginning of the axis on, where it starts on the straight line between its points */
function line(c: Curve, values: unknown, factor: number): [number, number][] {
  const v = Array.isArray(values) ? values.map(Number) : [];
  const first = c.travel.findIndex((t) => t > c.begin);
  const points = c.travel.map((t, i): [number, number] => [t * c.factor, (v[i] ?? 0) * factor]).slice(Math.max(first, 0));
  if (first > 0) {
    const t0 = c.travel[first - 1] ?? 0, t1 = c.travel[first] ?? 1, v0 = v[first - 1] ?? 0, v1 = v[first] ?? 0;
    points.unshift([c.begin * c.factor, (v0 + ((v1 - v0) * (c.begin - t0)) / (t1 - t0)) * factor]);
  }
  return points;
}

/** on a logarithmic axis: what lies under its lower end is not there, but a curve rises from it */
function above(points: [number, number][], least: number): [number, number | null][] {
  return points.map(([t, v], i) => [t, v > least ? v : (points[i + 1]?.[1] ?? 0) > least ? least : null]);
}

function panelsOf(way: unknown, c: Curve, store: Store): Panel[] {
  const [newton, newtonUnit] = axisUnit(Math.max(...c.force, 0), 'N', store.system);
  const curve = object(way, 'curve');
  const trip = numberAt(way, 'trip_force');
  const panels: Panel[] = [{ title: 'force at the tip', unit: newtonUnit, height: 170, from: 0, series: [{ name: 'force', style: 0, data: line(c, c.force, newton) }],
    levels: trip !== null ? [{ value: trip * newton, label: 'trips' }] : [] }];
  const least = roundBelow((c.begin * c.factor) / 10);
  panels.push({ title: 'how far each gives', unit: c.unit, height: 120, log: true, from: least, series: Object.entries(object(curve, 'stages')).map(([name, values]) => (
    { name, style: styleOf(name), data: above(line(c, values, c.factor), least) })) });
  const members = Object.entries(object(curve, 'members'));
  if (members.length) {
    const most = Math.max(...members.flatMap(([, v]) => (v as number[]).map(Number)), 0);
    panels.push({ title: 'stress over allowable', unit: '', height: 120, from: 0, to: Math.max(1.2, Math.min(Math.ceil(2 * most) / 2, 2.5)), levels: [{ value: 1, label: 'fails' }],
      series: members.map(([name, values]) => ({ name, style: styleOf(name), data: line(c, values, 1) })) });
  }
  return panels;
}

// ---- one direction ------------------------------------------------------------------------------

function sentence(way: unknown, store: Store): HTMLElement {
  const first = textAt(way, 'first_to_fail');
  const left = numberAt(way, 'travel_left');
  const member = listAt(way, 'members').find((m) => textAt(m, 'name') === first);
  const gives = textAt(way, 'gives_first');
  const stands = left === null ? 'No touch trips in this direction: nothing stops the machine.'
    : `A touch at the approach feed stops after ${length(way, 'overtravel', store)}: ${show(Math.abs(left), 'm', store.system)} ${left < 0 ? 'too far' : 'left'}.`;
  const what = member ? `${first} fails first, at ${force(member, 'fails_at_force')}, ${length(member, 'fails_at_travel', store)} after contact.`
    : `Nothing fails within ${length(way, 'travel', store)} of travel; ${force(way, 'force')} at its end, ${show(numberAt(way, 'energy'), 'J')} taken up.`;
  const late = listAt(way, 'order').filter((m) => flag(m, 'late')).map((m) => textAt(m, 'name'));
  const order = late.length ? ` Out of order: ${late.join(', ')} should come later.` : '';
  const bad = member !== undefined || late.length > 0 || (left !== null && left < 0);
  return h('p', { class: bad ? 'trips' : '' }, `${what.charAt(0).toUpperCase()}${what.slice(1)}${gives ? ` First to give is the ${gives}.` : ''} ${stands}${order}`);
}

function stageTable(name: string, way: unknown, store: Store): HTMLElement {
  return table(`${name}: what gives way`, ['stage', 'gives from', 'after', 'at its stop', 'after', 'gives in all', 'takes up'], listAt(way, 'stages').map((s) => [
    textAt(s, 'name'), force(s, 'gives_at'), length(s, 'gives_at_travel', store), force(s, 'limit_force'), length(s, 'limit_travel', store),
    `${length(s, 'travel', store)}${flag(s, 'stopped') ? ', on its stop' : ''}`, show(numberAt(s, 'energy'), 'J')]));
}

function memberTable(name: string, way: unknown, store: Store): HTMLElement {
  return table(`${name}: what may break`, ['part', 'carries', 'stress', 'allowable', 'of it', 'fails at', 'after'], listAt(way, 'members').map((m) => [
    textAt(m, 'name'), force(m, 'load'), show(numberAt(m, 'stress'), 'Pa'), show(numberAt(m, 'allowable'), 'Pa'),
    h('span', { class: flag(m, 'fails') ? 'trips' : '' }, `${Math.round(100 * (numberAt(m, 'ratio') ?? 0))} %${flag(m, 'fails') ? ', fails' : ''}`),
    force(m, 'fails_at_force'), length(m, 'fails_at_travel', store)]));
}

function one(way: unknown, store: Store): HTMLElement {
  const name = textAt(way, 'name');
  if (textAt(way, 'state') !== 'ok') {
    return h('div', { class: 'crash-one' }, h('h3', {}, name), h('p', { class: 'stale' }, textAt(way, 'note')));
  }
  const c = curveOf(way, store);
  const chart = new Chart({ label: `${name}: force, travel of each stage and stress over allowable against the travel after contact; the same in the tables below`,
    x: `travel after contact (${c.unit}), logarithmic`, panels: panelsOf(way, c, store), marks: c.marks.map((m) => ({ x: m.at * c.factor, label: m.label })), range: [c.begin * c.factor, c.end * c.factor], logX: true }, store.source.report);
  return h('div', { class: 'crash-one' }, h('h3', {}, name), sentence(way, store), chart.element,
    stageTable(name, way, store), memberTable(name, way, store));
}

export const crash: View = {
  id: 'crash',
  title: 'Crash and stack',
  documents: ['crash'],
  draw(store, [document]) {
    const measures = store.evaluation?.check.measures ?? {};
    const figure = (name: string, unit: string): string => {
      const m = measures[name];
      return typeof m?.value === 'number' ? show(m.value, unit, store.system) : typeof m?.value === 'string' ? m.value : m?.state.replace(/_/g, ' ') ?? '';
    };
    return [
      figures([['overtravel, sideways', figure('overtravel_side', 'm')], ['overtravel, along the axis', figure('overtravel_axial', 'm')], ['largest force in a crash', figure('crash_force', 'N')],
        ['fails first', figure('first_to_fail', '')], ['stress in the ceramic over its allowable', figure('ceramic_stress_ratio', '')], ['stress in the stem over its allowable', figure('stem_stress_ratio', '')],
        ['holder off after a crash', figure('reseat_offset', 'm')], ['left of the axial stack', figure('stack_clearance', 'm')], ['fastest safe approach', figure('fastest_feed', 'm/s')]]),
      store.value('stack.chain')?.text ? null : h('p', { class: 'quiet' }, 'No axial chain is given: list it under stack.chain in the design file to see what is left.'),
      h('p', { class: 'caution' }, 'A probe is never a safety device. Tram again after every crash unless the holder locates kinematically.'),
      ...listAt(document, 'directions').map((way) => one(way, store)),
      h('p', { class: 'quiet' }, 'What each part carries and gives is that at the end of the crash travel (housing.travel_side, housing.travel_axial). Past the first failure there is no model: the figures there only show by how much.'),
    ].filter((n): n is HTMLElement => n !== null);
  },
};
