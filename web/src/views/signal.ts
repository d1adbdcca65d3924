// signal.ts: where the signal goes: from newton at the tip to volt at the comparator, one step a
// stage, the loss named in words and figures; then what eats into the threshold.
import { h } from '../dom';
import { percent, show } from '../format';
import type { Measure, ViewDocument } from '../types';
import { figures, listAt, numberAt, table, textAt, type View } from './view';

interface Stage { name: string; value: string; words: string; share: number | null }

function chain(label: string, stages: Stage[]): HTMLElement {
  return h('ol', { class: 'chain', 'aria-label': label }, ...stages.map((stage) => {
    const bar = h('span', { class: stage.share === null ? 'chain-bar no-bar' : 'chain-bar', 'aria-hidden': 'true' });
    if (stage.share !== null) {
      const inner = h('span', {});
      inner.style.width = `${(100 * Math.min(1, stage.share)).toFixed(1)}%`;
      bar.append(inner);
    }
    return h('li', {}, h('b', {}, stage.name), h('span', { class: 'number' }, stage.value), bar, h('span', { class: 'quiet' }, stage.words));
  }));
}

function sideways(force: Measure | undefined): Stage[] {
  if (!force || typeof force.value !== 'number') {
    return [];
  }
  const whole = force.value;
  let left = whole;
  return [{ name: 'at the tip', value: show(whole, 'N'), words: 'sideways force at the trip, in the hardest direction', share: 1 },
    ...force.contributions.map((c, i) => {
      const last = i === force.contributions.length - 1;
      left -= c.value;
      return { name: c.cause, value: show(c.value, 'N'), share: Math.max(0, (last ? c.value : left) / whole),
        words: last ? `works on the disc until the comparator switches: ${percent(c.value / whole)}` : `takes ${percent(c.value / whole)} before the disc gives a signal` };
    })];
}

/** what each stage leaves of the one before stands in the document, in the unit in which it is lost */
function steps(document: ViewDocument | undefined): Stage[] {
  return listAt(document, 'signal').map((row) => {
    const value = numberAt(row, 'value'), unit = textAt(row, 'unit'), left = numberAt(row, 'left');
    const stage = textAt(row, 'stage');
    const share = stage === 'tip' || stage === 'threshold' ? null : left;
    const words = textAt(row, 'says') + (left !== null && left < 0.9995 ? `: ${percent(1 - left)} lost` : '');
    return { name: stage, value: show(value, unit), words, share };
  });
}

export const signal: View = {
  id: 'signal',
  title: 'Where the signal goes',
  documents: ['circuit'],
  draw(store, [document]) {
    const side = sideways(store.evaluation?.check.measures['trip_force_side']);
    const level = (name: string, unit: string): string => show(numberAt(document, 'levels', name), unit);
    const causes = listAt((document ?? {})['budget'], 'causes');
    return [
      h('h3', {}, 'Of a sideways push'),
      side.length ? chain('of a sideways push', side) : h('p', { class: 'quiet' }, 'There is no sideways trip whose force could be shared out.'),
      h('h3', {}, 'From newton to volt'),
      chain('from newton to volt', steps(document)),
      h('h3', {}, 'At the comparator'),
      figures([['rests at', level('rest', 'V')], ['trips at', level('trip', 'V')], ['releases at', level('release', 'V')], ['change at the node to the trip', level('threshold_voltage', 'V')],
        ['hysteresis', level('hysteresis_voltage', 'V')], ['time constant', level('time_constant', 's')], ['least threshold in the worst case', show(numberAt(document, 'budget', 'worst_low'), 'V')],
        ['most', show(numberAt(document, 'budget', 'worst_high'), 'V')]]),
      causes.length ? table('what moves the threshold', ['cause', 'down by', 'up by'], causes.map((c) => [textAt(c, 'cause'), show(numberAt(c, 'down'), 'V'), show(numberAt(c, 'up'), 'V')])) : h('p', {}),
      ...listAt(document, 'warnings').map((w) => h('p', { class: 'stale' }, textAt(w, 'text'), textAt(w, 'field') ? ` (${textAt(w, 'field')})` : '')),
    ];
  },
};
