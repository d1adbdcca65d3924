// directions.ts: trip force and pretravel over the direction of the touch: two roses over the
// azimuth, and the hemisphere as an equal-area map with the pole in the middle.
import { h, pathOf, s } from '../dom';
import { axisUnit, show } from '../format';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { listAt, numberAt, table, textAt, type View } from './view';

interface Row { azimuth: number; elevation: number; force: number | null; pretravel: number | null; state: string; mechanism: string }

function rowsOf(document: ViewDocument): Row[] {
  return listAt(document, 'directions').map((row) => ({
    azimuth: numberAt(row, 'azimuth_deg') ?? 0,
    elevation: numberAt(row, 'elevation_deg') ?? 0,
    force: numberAt(row, 'force'),
    pretravel: numberAt(row, 'pretravel'),
    state: textAt(row, 'state'),
    mechanism: textAt(row, 'mechanism'),
  }));
}

const RAD = Math.PI / 180;
const SIZE = 340;
const MIDDLE = SIZE / 2;
const RIM = 122;

function niceTop(value: number): number {
  const decade = 10 ** Math.floor(Math.log10(value));
  return ([1, 2, 2.5, 5, 10].find((f) => f * decade >= value * (1 - 1e-12)) ?? 10) * decade;
}

function compass(svg: SVGElement, radius: number): void {
  for (let a = 0; a < 360; a += 30) {
    const c = Math.cos(a * RAD), sn = Math.sin(a * RAD);
    svg.append(s('path', { d: `M${MIDDLE} ${MIDDLE}L${MIDDLE + radius * c} ${MIDDLE - radius * sn}`, class: 'grid' }));
    svg.append(s('text', { x: MIDDLE + (radius + (sn === 0 || Math.abs(c) > 0.9 ? 30 : 24)) * c, y: MIDDLE - (radius + 20) * sn + 4, 'text-anchor': 'middle', class: a % 90 ? 'small' : 'strong' },
      a === 0 ? 'X 0°' : a === 90 ? 'Y 90°' : `${a}°`));
  }
}

function seatMarks(svg: SVGElement, document: ViewDocument, radius: number): void {
  for (const seat of listAt(document, 'seats')) {
    const a = Number(seat);
    svg.append(s('path', { d: `M${MIDDLE + radius} ${MIDDLE}l10 -6v12z`, class: 'seat-mark', transform: `rotate(${-a} ${MIDDLE} ${MIDDLE})` },
      s('title', {}, `seat or contact point at ${a}°`)));
  }
}

function rose(title: string, unit: string, style: number, rows: Row[], pick: (r: Row) => number | null, document: ViewDocument,
              store: Store): HTMLElement {
  const values = rows.map(pick).filter((v): v is number => v !== null);
  const most = Math.max(...values, 0);
  const svg = s('svg', { viewBox: `0 0 ${SIZE} ${SIZE}`, class: 'rose', role: 'img',
    'aria-label': `${title} over the azimuth, from ${show(Math.min(...values), unit, store.system)} to ${show(most, unit, store.system)}` });
  if (values.length === 0) {
    return h('figure', {}, h('figcaption', {}, title), h('p', { class: 'quiet' }, 'no trip in any sideways direction'));
  }
  const [factor, name] = axisUnit(most, unit, store.system);
  const top = niceTop(most * factor);
  for (const part of [0.5, 1]) {
    svg.append(s('circle', { cx: MIDDLE, cy: MIDDLE, r: RIM * part, class: 'grid' }));
  }
  compass(svg, RIM);
  seatMarks(svg, document, RIM);
  const points = rows.map((r) => {
    const v = pick(r);
    const radius = v === null ? 0 : (RIM * v * factor) / top;
    return v === null ? null : ([MIDDLE + radius * Math.cos(r.azimuth * RAD), MIDDLE - radius * Math.sin(r.azimuth * RAD)] as const);
  });
  const whole = points.every((p) => p !== null);
  svg.append(s('path', { d: pathOf(whole ? points : [...points, points[0] ?? null], whole), class: `curve series-${style}` }));
  rows.forEach((r, i) => {
    const p = points[i];
    const about = s('title', {}, `${r.azimuth}°: ${p ? show(pick(r), unit, store.system) : 'no trip'}`);
    svg.append(p ? s('circle', { cx: p[0], cy: p[1], r: 3.2, class: `spot series-${style}` }, about)
      : s('text', { x: MIDDLE + 0.9 * RIM * Math.cos(r.azimuth * RAD), y: MIDDLE - 0.9 * RIM * Math.sin(r.azimuth * RAD) + 5, 'text-anchor': 'middle', class: 'no-trip' }, '×', about));
  });
  for (const part of [0.5, 1]) {
    svg.append(s('text', { x: MIDDLE + 4, y: MIDDLE - RIM * part + 14, class: 'small halo' }, `${Number((top * part).toPrecision(3))} ${name}`));
  }
  return h('figure', {}, h('figcaption', {}, title), svg);
}

/** equal-area: the distance from the pole is sqrt(2) sin((90 - e)/2) of the rim's */
function mapRadius(elevation: number): number {
  return RIM * Math.SQRT2 * Math.sin(((90 - elevation) * RAD) / 2);
}

function cell(a1: number, a2: number, e1: number, e2: number): string {
  const inner = mapRadius(Math.min(90, e2)), outer = mapRadius(Math.max(0, e1));
  const at = (r: number, a: number): string => `${(MIDDLE + r * Math.cos(a * RAD)).toFixed(1)} ${(MIDDLE - r * Math.sin(a * RAD)).toFixed(1)}`;
  return `M${at(inner, a1)}L${at(outer, a1)}A${outer.toFixed(1)} ${outer.toFixed(1)} 0 0 0 ${at(outer, a2)}L${at(inner, a2)}A${inner.toFixed(1)} ${inner.toFixed(1)} 0 0 1 ${at(inner, a1)}Z`;
}

const STEPS = 6;

function hemisphere(title: string, unit: string, rows: Row[], pick: (r: Row) => number | null, store: Store): HTMLElement {
  const values = rows.map(pick).filter((v): v is number => v !== null);
  if (values.length === 0) {
    return h('figure', {}, h('figcaption', {}, title), h('p', { class: 'quiet' }, 'no trip in any direction'));
  }
  const low = Math.min(...values), high = Math.max(...values);
  /* equal steps; equal ratios where the range is wide */
  const wide = low > 0 && high / low > 6;
  const border = (i: number): number => (wide ? low * (high / low) ** (i / STEPS) : low + ((high - low) * i) / STEPS);
  const shade = (v: number): number => {
    let i = 0;
    while (i < STEPS - 1 && v >= border(i + 1)) {
      i++;
    }
    return i;
  };
  const azimuths = [...new Set(rows.filter((r) => r.elevation === 0).map((r) => r.azimuth))];
  const elevations = [...new Set(rows.map((r) => r.elevation))].sort((a, b) => a - b);
  const step = azimuths.length > 1 ? 360 / azimuths.length : 360;
  const rise = (elevations[1] ?? 15) - (elevations[0] ?? 0);
  const svg = s('svg', { viewBox: `0 0 ${SIZE} ${SIZE}`, class: 'hemisphere', role: 'img',
    'aria-label': `${title} over all directions, equal-area map with straight into the probe in the middle, from ${show(low, unit, store.system)} to ${show(high, unit, store.system)}` });
  for (const r of rows) {
    const v = pick(r);
    const about = s('title', {}, `azimuth ${r.azimuth}°, elevation ${r.elevation}°: ${v === null ? r.state.replace('_', ' ') : show(v, unit, store.system)}`);
    const classes = v === null ? 'shade-none' : `shade-${shade(v)}`;
    svg.append(r.elevation >= 90
      ? s('circle', { cx: MIDDLE, cy: MIDDLE, r: mapRadius(90 - rise / 2), class: `map-cell ${classes}` }, about)
      : s('path', { d: cell(r.azimuth - step / 2, r.azimuth + step / 2, r.elevation - rise / 2, r.elevation + rise / 2), class: `map-cell ${classes}` }, about));
  }
  compass(svg, RIM);
  for (const e of [30, 60]) {
    svg.append(s('text', { x: MIDDLE + 3, y: MIDDLE - mapRadius(e) + 12, class: 'small halo' }, `${e}°`));
  }
  const key = h('ol', { class: 'shade-key' }, ...Array.from({ length: STEPS }, (_, i) =>
    h('li', {}, s('svg', { viewBox: '0 0 22 12', class: 'key', 'aria-hidden': 'true' }, s('rect', { width: 22, height: 12, class: `shade-${i}` })),
      ` ${show(border(i), unit, store.system)} – ${show(border(i + 1), unit, store.system)}`)));
  return h('figure', {}, h('figcaption', {}, title), svg, key);
}

export const directions: View = {
  id: 'directions',
  title: 'Directions',
  documents: ['directions'],
  draw(store, [document]) {
    const rows = rowsOf(document ?? {});
    const side = rows.filter((r) => r.elevation === 0).sort((a, b) => a.azimuth - b.azimuth);
    const mechanisms = [...new Set(side.map((r) => r.mechanism).filter((m) => m && m !== 'none'))];
    return [
      h('p', { class: 'quiet' }, 'Seen from above looking down the spindle: X to the right, Y up, azimuth counter-clockwise of the force that the work exerts on the tip. ',
        mechanisms.length ? `Trips sideways ${mechanisms.map((m) => m.replace(/_/g, ' ')).join(', ')}. ` : '',
        textAt(document, 'uneven') ? `Sideways: ${textAt(document, 'uneven')}.` : ''),
      h('div', { class: 'pictures' },
        rose('trip force, sideways', 'N', 0, side, (r) => r.force, document ?? {}, store),
        rose('pretravel, sideways', 'm', 1, side, (r) => r.pretravel, document ?? {}, store),
        hemisphere('pretravel in every direction', 'm', rows, (r) => r.pretravel, store),
        hemisphere('trip force in every direction', 'N', rows, (r) => r.force, store)),
      h('details', { class: 'figures-table' }, h('summary', {}, 'as a table'),
        table('sideways touches', ['azimuth', 'force', 'pretravel', 'how'],
          side.map((r) => [`${r.azimuth}°`, r.force === null ? r.state.replace('_', ' ') : show(r.force, 'N'), show(r.pretravel, 'm', store.system), r.mechanism.replace(/_/g, ' ')]))),
    ];
  },
};
