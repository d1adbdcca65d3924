// disc.ts: the disc alone: deflection and charge over the radius, stress layer by layer, and the
// disc from above shaded by the charge of a push there and by the stress that one leaves.
import { Chart } from '../chart';
import { h, replace, s } from '../dom';
import { axisUnit, parts, show } from '../format';
import { figures, listAt, numberAt, table, textAt, type View } from './view';

/** steps to either side of zero; as on the section (src/report/section_shade.c) */
const STEPS = 3, SPAN = STEPS + 0.499;

interface Circles { edge: number; ceramic: number | null; contact: number | null }

/** the disc from above: rings of one tone, blue below zero, orange above, and a key with their ranges */
function toned(title: string, radius: number[], values: number[], unit: string, circles: Circles, words: [string, string]): HTMLElement[] {
  const most = Math.max(...values.map(Math.abs)) || 1;
  const toneOf = (v: number): number => Math.round((v / most) * SPAN) + STEPS;
  const size = 260, middle = size / 2, scale = 116 / circles.edge;
  const high = Math.max(...values), low = Math.min(...values);
  const at = (v: number): string => show(radius[values.indexOf(v)] ?? 0, 'm');
  const range = `from ${show(low, unit)} at radius ${at(low)} to ${show(high, unit)} at radius ${at(high)}`;
  const svg = s('svg', { viewBox: `0 0 ${size} ${size}`, class: 'disc-plan', role: 'img', 'aria-label': `${title}, the disc from above, ${range}` });
  const drawn = new Set<number>();
  for (let i = radius.length - 1; i > 0; i--) {
    const tone = toneOf(((values[i] ?? 0) + (values[i - 1] ?? 0)) / 2);
    drawn.add(tone);
    svg.append(s('circle', { cx: middle, cy: middle, r: (radius[i] ?? 0) * scale, class: `tone-${tone}` }));
  }
  svg.append(s('circle', { cx: middle, cy: middle, r: circles.edge * scale, class: 'plan-edge' }));
  if (circles.ceramic) {
    svg.append(s('circle', { cx: middle, cy: middle, r: circles.ceramic * scale, class: 'plan-ceramic' }));
    svg.append(s('text', { x: middle, y: middle - circles.ceramic * scale - 4, 'text-anchor': 'middle', class: 'small halo' }, 'ceramic'));
  }
  if (circles.contact) {
    svg.append(s('circle', { cx: middle, cy: middle, r: circles.contact * scale, class: 'plan-halo' }));
    svg.append(s('circle', { cx: middle, cy: middle, r: circles.contact * scale, class: 'plan-contact' }));
    svg.append(s('text', { x: middle, y: middle + circles.contact * scale + 14, 'text-anchor': 'middle', class: 'small halo' }, 'carrier'));
  }
  const border = (step: number): [string, string] => parts((most * Math.min(Math.max(step, -SPAN), SPAN)) / SPAN, unit);
  const between = ([a, from]: [string, string], [b, to]: [string, string]): string => (from === to ? `${a} to ${b} ${to}` : `${a} ${from} to ${b} ${to}`);
  const key = h('ol', { class: 'shade-key' }, ...[...drawn].sort((a, b) => b - a).map((tone) => h('li', {},
    s('svg', { viewBox: '0 0 22 12', class: 'key', 'aria-hidden': 'true' }, s('rect', { width: 22, height: 12, class: `tone-${tone}` })),
    ` ${tone > STEPS ? `${words[0]} ` : tone < STEPS ? `${words[1]} ` : ''}${between(border(tone - STEPS - 0.5), border(tone - STEPS + 0.5))}`)));
  return [svg as unknown as HTMLElement, h('p', { class: 'quiet' }, range), key];
}

/** charge, and the stress of one face of one layer, which the user chooses */
function stressFigure(document: unknown, circles: Circles, fixed: boolean): HTMLElement | null {
  const along = (document as Record<string, unknown>)['stress_along'];
  const radius = listAt(along, 'radius').map(Number);
  const faces = listAt(along, 'rows').map((r) => {
    const radial = listAt(r, 'radial').map(Number), hoop = listAt(r, 'hoop').map(Number);
    const values = radial.map((v, i) => (Math.abs(v) > Math.abs(hoop[i] ?? 0) ? v : hoop[i] ?? 0));
    return { name: `${textAt(r, 'layer')}, ${textAt(r, 'face')} face`, ceramic: textAt(r, 'layer') === 'ceramic', values, most: Math.max(...values) };
  }).filter((f) => f.values.some((v) => v !== 0));
  const first = [...faces].sort((a, b) => Number(b.ceramic) - Number(a.ceramic) || b.most - a.most)[0];
  if (!first) {
    return null;
  }
  const holder = h('div', {});
  const draw = (name: string): void => {
    const face = faces.find((f) => f.name === name) ?? first;
    /* a layer that ends before the edge has nothing beyond it */
    const end = face.values.reduce((last, v, i) => (v !== 0 ? i : last), 0) + 1;
    replace(holder, ...toned(`stress for a push of one newton, ${face.name}`, radius.slice(0, end), face.values.slice(0, end), 'Pa/N', circles, ['tension', 'pressure']));
  };
  const choice = h('select', { 'aria-label': 'face whose stress is shown', change: () => draw(choice.value) }, ...faces.map((f) => h('option', { value: f.name }, f.name)));
  choice.value = first.name;
  draw(first.name);
  return h('figure', {}, h('figcaption', {}, 'stress for a push, from above'),
    fixed ? h('p', { class: 'quiet' }, first.name) : h('label', { class: 'face-choice' }, 'face ', choice), holder);
}

export const disc: View = {
  id: 'disc',
  title: 'Disc',
  documents: ['disc'],
  draw(store, [document]) {
    const influence = (document ?? {})['influence'];
    const radius = listAt(influence, 'radius').map(Number), g = listAt(influence, 'g').map(Number);
    const at = listAt(document, 'at');
    const metric = axisUnit(Math.max(...radius, 1e-3), 'm', store.system);
    const [gFactor, gUnit] = axisUnit(Math.max(...g.map(Math.abs), 0), 'm/V', 'metric');
    const panels = [{ title: 'deflection per volt = charge per newton', unit: gUnit.replace('m/V', 'm/V = C/N'), height: 150,
      series: [{ name: 'g', style: 0, data: radius.map((r, i): [number, number] => [r * metric[0], (g[i] ?? 0) * gFactor]) }] }];
    const bend = at.map((r) => [numberAt(r, 'radius'), numberAt(r, 'deflection_per_newton')] as const).filter((p): p is readonly [number, number] => p[0] !== null && p[1] !== null);
    if (bend.length > 2) {
      const [factor, unit] = axisUnit(Math.max(...bend.map((p) => Math.abs(p[1]))), 'm/N', 'metric');
      panels.push({ title: 'deflection under a ring of one newton', unit, height: 120,
        series: [{ name: 'w', style: 1, data: bend.map((p): [number, number] => [p[0] * metric[0], p[1] * factor]) }] });
    }
    const half = (path: string): number | null => {
      const text = store.value(path)?.shown ?? '';
      const mm = /([\d.]+)\s*mm/.exec(text)?.[1];
      return mm ? Number(mm) / 1000 : null;
    };
    const ceramic = half('disc.ceramic_diameter'), contact = half('seat.flat_radius') ?? half('seat.bond_radius');
    const circles: Circles = { edge: radius[radius.length - 1] ?? 1, ceramic: ceramic ? ceramic / 2 : null, contact };
    const m = (name: string, unit: string, digits = 3): string => show(numberAt(document, 'measures', name), unit, 'metric', digits);
    return [
      h('div', { class: 'pictures' },
        h('figure', {}, h('figcaption', {}, 'charge for a push, from above'), ...toned('charge of a push there', radius, g, 'C/N', circles, ['plus', 'minus'])),
        stressFigure(document, circles, store.source.report),
        h('figure', {}, h('figcaption', {}, 'figures'), figures([
          ['capacitance in the support', m('capacitance_mounted', 'F')], ['capacitance blocked', m('capacitance_blocked', 'F')],
          ['charge per newton', m('charge_per_newton', 'C/N')], ['open voltage per newton', m('voltage_per_newton_open', 'V/N')],
          ['stiffness, short', m('stiffness_short', 'N/m')], ['stiffness, open', m('stiffness_open', 'N/m')],
          ['resonance, edge free', m('resonance_free', 'Hz')], ['resonance in the support', m('resonance_mounted', 'Hz')],
          ['resonance with the carrier', m('resonance_loaded', 'Hz')]]))),
      new Chart({ label: 'influence and deflection over the radius', x: `radius (${metric[1]})`, panels, range: [0, (radius[radius.length - 1] ?? 0) * metric[0]] }, store.source.report).element,
      table('stress per newton at the carrier’s contact', ['layer and face', 'short', 'open', 'peak tension'], listAt(document, 'stress').map((r) => [
        `${textAt(r, 'layer').replace(/_/g, ' ')}, ${textAt(r, 'face')} face`, show(numberAt(r, 'per_newton'), 'Pa/N'), show(numberAt(r, 'per_newton_open'), 'Pa/N'), show(numberAt(r, 'peak_tension'), 'Pa/N')])),
      ...listAt(document, 'warnings').map((w) => h('p', { class: 'stale' }, textAt(w, 'text'))),
    ];
  },
};
