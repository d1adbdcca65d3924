// falsetrips.ts: how far rapid moves, knocks, drift and interference stay below the threshold.
import { h } from '../dom';
import { missing, show } from '../format';
import { figures, listAt, numberAt, textAt, type View } from './view';

interface Cause { name: string; margin: number | null; never: boolean; words: string; trips: boolean }

/** threshold over signal; not applicable where there is no signal at all */
function cause(name: string, part: unknown, quiet: string): Cause {
  const margin = numberAt(part, 'margin');
  const never = textAt((part as Record<string, unknown> | undefined)?.['margin'], 'state') === 'not_applicable';
  const most = numberAt(part, 'acceleration_for_margin_2');
  return {
    name, margin, never, trips: margin !== null && margin < 1,
    words: never ? 'no signal reaches the comparator' : margin === null ? quiet
      : `${show(numberAt(part, 'node'), 'V')} at the node${most !== null ? `; up to ${show(most, 'm/s2')} leaves a margin of 2` : ''}`,
  };
}

export const falsetrips: View = {
  id: 'falsetrips',
  title: 'False trips',
  documents: ['shake'],
  draw(store, [document]) {
    const moves = (document ?? {})['moves'] as Record<string, unknown> | undefined;
    const causes = [
      ...(['x', 'y', 'z'] as const).map((axis) => cause(`move along ${axis.toUpperCase()}`, moves?.[axis], 'not computed')),
      ...Object.entries(document ?? {}).filter(([name, part]) => name !== 'moves' && typeof part === 'object' && part !== null && 'margin' in part).map(([name, part]) => cause(name.replace(/_/g, ' '), part, '')),
    ];
    const figure = (name: string, unit: string): string => {
      const v = store.evaluation?.check.measures[name]?.value;
      return typeof v === 'number' ? show(v, unit, store.system) : '';
    };
    return [
      h('p', { class: 'quiet' }, 'Each bar is the signal of the cause as a share of the threshold: full means that it trips.'),
      h('ol', { class: 'chain' }, ...causes.map((c) => {
        const bar = h('span', { class: 'chain-bar', 'aria-hidden': 'true' });
        const inner = h('span', {});
        inner.style.width = `${c.margin ? Math.min(100, 100 / c.margin).toFixed(1) : 0}%`;
        bar.append(inner);
        return h('li', {}, h('b', {}, c.name), h('span', { class: 'number' }, c.never ? 'none' : c.margin === null ? missing : `${show(c.margin, '')} times`), bar,
          h('span', { class: c.trips ? 'trips' : 'quiet' }, c.trips ? `trips by itself: ${c.words}` : c.words));
      })),
      figures([['threshold at the node', figure('threshold_voltage', 'V')], ['noise, r.m.s.', figure('noise_rms', 'V')], ['slow drift', figure('rest_drift_voltage', 'V')], ['extra edges in one touch', figure('chatter', '')]]),
      ...listAt(document, 'warnings').map((w) => h('p', { class: 'stale' }, textAt(w, 'text'))),
    ];
  },
};
