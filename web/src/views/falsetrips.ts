// falsetrips.ts: how far rapid moves, knocks, drift and interference stay below the threshold.
import { h } from '../dom';
import { show } from '../format';
import { figures, type View } from './view';

export const falsetrips: View = {
  id: 'falsetrips',
  title: 'False trips',
  documents: [],
  draw(store) {
    const measures = store.evaluation?.check.measures ?? {};
    const rows = (['x', 'y', 'z'] as const).map((axis) => {
      const m = measures[`false_trip_margin_${axis}`];
      const value = typeof m?.value === 'number' ? m.value : null;
      const never = value !== null && value >= 1e6;
      const bar = h('span', { class: 'chain-bar', 'aria-hidden': 'true' });
      const inner = h('span', {});
      inner.style.width = `${value ? Math.min(100, 100 / value).toFixed(1) : 0}%`;
      bar.append(inner);
      return h('li', {}, h('b', {}, `along ${axis.toUpperCase()}`), h('span', { class: 'number' }, value === null ? m?.state.replace(/_/g, ' ') ?? 'not computed' : never ? 'no signal' : `${show(value, '')} times`), bar,
        h('span', { class: 'quiet' }, value === null ? m?.why ?? m?.note ?? '' : never ? m?.note ?? '' : value >= 1 ? `the threshold is ${show(value, '')} times the signal of the machine’s acceleration` : 'the machine’s own acceleration trips the probe'));
    });
    const figure = (name: string, unit: string): string => {
      const v = measures[name]?.value;
      return typeof v === 'number' ? show(v, unit, store.system) : '';
    };
    return [
      h('p', { class: 'quiet' }, 'Each bar is the signal of the cause as a share of the threshold: full means that it trips.'),
      h('ol', { class: 'chain' }, ...rows),
      figures([['threshold at the node', figure('threshold_voltage', 'V')], ['noise, r.m.s.', figure('noise_rms', 'V')], ['slow drift', figure('rest_drift_voltage', 'V')], ['extra edges in one touch', figure('chatter', '')]]),
    ].filter((n): n is HTMLElement => n !== null);
  },
};

export const crash: View = {
  id: 'crash',
  title: 'Crash and stack',
  documents: [],
  draw(store) {
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
    ].filter((n): n is HTMLElement => n !== null);
  },
};
