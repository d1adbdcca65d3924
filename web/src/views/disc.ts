// disc.ts: the disc alone: deflection and charge over the radius, stress layer by layer, and the
// disc from above shaded by how much charge a push there gives.
import { Chart } from '../chart';
import { h, s } from '../dom';
import { axisUnit, show } from '../format';
import { figures, listAt, numberAt, table, textAt, type View } from './view';

function plan(radius: number[], g: number[], ceramic: number | null, contact: number | null): SVGElement {
  const edge = radius[radius.length - 1] ?? 1;
  const most = Math.max(...g.map(Math.abs)) || 1;
  const size = 260, middle = size / 2, scale = 116 / edge;
  const svg = s('svg', { viewBox: `0 0 ${size} ${size}`, class: 'disc-plan', role: 'img', 'aria-label': 'the disc from above, darker where a push gives more charge' });
  for (let i = radius.length - 1; i > 0; i--) {
    const shade = Math.min(5, Math.floor((Math.abs((g[i] ?? 0) + (g[i - 1] ?? 0)) / 2 / most) * 6));
    svg.append(s('circle', { cx: middle, cy: middle, r: (radius[i] ?? 0) * scale, class: `shade-${shade}` }));
  }
  svg.append(s('circle', { cx: middle, cy: middle, r: edge * scale, class: 'plan-edge' }));
  if (ceramic) {
    svg.append(s('circle', { cx: middle, cy: middle, r: ceramic * scale, class: 'plan-ceramic' }));
    svg.append(s('text', { x: middle, y: middle - ceramic * scale - 4, 'text-anchor': 'middle', class: 'small halo' }, 'ceramic'));
  }
  if (contact) {
    svg.append(s('circle', { cx: middle, cy: middle, r: contact * scale, class: 'plan-contact' }));
    svg.append(s('text', { x: middle, y: middle + contact * scale + 14, 'text-anchor': 'middle', class: 'small halo' }, 'carrier'));
  }
  return svg;
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
    const m = (name: string, unit: string, digits = 3): string => show(numberAt(document, 'measures', name), unit, 'metric', digits);
    return [
      h('div', { class: 'pictures' },
        h('figure', {}, h('figcaption', {}, 'charge for a push, from above'), plan(radius, g, ceramic ? ceramic / 2 : null, contact)),
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
