// signal.ts: where the signal goes: from newton at the tip to volt at the comparator, one step a
// stage, the loss named in words and figures.
import { h } from '../dom';
import { percent, show } from '../format';
import type { Measure } from '../types';
import { type View } from './view';

interface Stage { name: string; value: string; words: string; share: number | null }

function number(measures: Record<string, Measure>, name: string): number | null {
  const value = measures[name]?.value;
  return typeof value === 'number' ? value : null;
}

export const signal: View = {
  id: 'signal',
  title: 'Where the signal goes',
  documents: [],
  draw(store) {
    const measures = store.evaluation?.check.measures ?? {};
    const force = measures['trip_force_side'];
    const whole = number(measures, 'trip_force_side');
    const stages: Stage[] = [];
    if (force && whole) {
      stages.push({ name: 'at the tip', value: show(whole, 'N'), words: 'sideways force at the trip, in the hardest direction', share: 1 });
      let left = whole;
      for (const c of force.contributions) {
        left -= c.value;
        const last = c === force.contributions[force.contributions.length - 1];
        stages.push({ name: c.cause, value: show(c.value, 'N'),
          words: last ? 'what is left works on the disc until the comparator switches'
            : `lost before the disc feels anything: ${percent(c.value / whole)} of the force`, share: last ? c.value / whole : Math.max(0, left / whole) });
      }
    }
    const charge = number(measures, 'charge_per_newton'), open = number(measures, 'voltage_per_newton_open'), node = number(measures, 'voltage_per_newton');
    if (charge !== null) {
      stages.push({ name: 'charge', value: show(Math.abs(charge), 'C/N'), words: 'of the disc for a newton at the carrier’s contact radius', share: 1 });
    }
    if (open !== null) {
      stages.push({ name: 'bare disc', value: show(Math.abs(open), 'V/N'), words: 'voltage if nothing were connected', share: 1 });
    }
    if (node !== null && open) {
      stages.push({ name: 'node', value: show(Math.abs(node), 'V/N'), words: `cable and input take ${percent(Math.max(0, 1 - Math.abs(node / open)))}`, share: Math.abs(node / open) });
    }
    const threshold = number(measures, 'threshold_voltage');
    if (threshold !== null) {
      stages.push({ name: 'threshold', value: show(threshold, 'V'),
        words: node ? `the comparator waits for ${show(Math.abs(threshold / node), 'N')} on the disc` : 'from rest to the trip', share: null });
    }
    for (const [name, what] of [['rest_drift_voltage', 'slow drift at the stated temperature rate'], ['noise_rms', 'noise at the node']] as const) {
      const v = number(measures, name);
      if (v !== null && threshold) {
        stages.push({ name: what.split(' ')[0] === 'slow' ? 'drift' : 'noise', value: show(v, 'V'), words: `${what}: ${percent(Math.abs(v / threshold))} of the threshold`, share: Math.min(1, Math.abs(v / threshold)) });
      }
    }
    if (stages.length === 0) {
      return [h('p', { class: 'quiet' }, 'There is no sideways trip whose signal could be followed.')];
    }
    return [h('ol', { class: 'chain' }, ...stages.map((stage) => {
      const bar = h('span', { class: 'chain-bar', 'aria-hidden': 'true' });
      if (stage.share !== null) {
        const inner = h('span', {});
        inner.style.width = `${(100 * stage.share).toFixed(1)}%`;
        bar.append(inner);
      } else {
        bar.classList.add('empty');
      }
      return h('li', {}, h('b', {}, stage.name), h('span', { class: 'number' }, stage.value), bar, h('span', { class: 'quiet' }, stage.words));
    }))];
  },
};
