// bench.ts: the card that goes to the bench: what each test point should show.
import { h } from '../dom';
import { show } from '../format';
import type { Store } from '../store';
import { listAt, numberAt, textAt, type View } from './view';

function expected(row: unknown, store: Store): string {
  const unit = textAt(row, 'expected', 'unit') || textAt(row, 'unit');
  const value = numberAt(row, 'expected');
  const low = numberAt(row, 'low'), high = numberAt(row, 'high');
  const text = value !== null ? show(value, unit, store.system) : textAt(row, 'expected') || textAt(row, 'text');
  return low !== null && high !== null ? `${text} (${show(low, unit, store.system)} to ${show(high, unit, store.system)})` : text;
}

export const bench: View = {
  id: 'bench',
  title: 'Bench card',
  documents: ['expect'],
  draw(store, [document]) {
    const rows = listAt(document, 'checks');
    return [
      h('p', { class: 'caution' }, 'Before touching the board: no supply while soldering or probing with a clip; lithium cells, resin, solvents and adhesives have their own data sheets; wear eye protection when weights hang from a stylus.'),
      h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': 'bench card' }, h('table', { class: 'bench' },
        h('thead', {}, h('tr', {}, ...['check', 'where', 'with', 'should show', 'found', 'if it is wrong'].map((t) => h('th', { scope: 'col' }, t)))),
        h('tbody', {}, ...rows.map((r) => h('tr', {},
          h('th', { scope: 'row' }, textAt(r, 'name')), h('td', {}, textAt(r, 'point')), h('td', {}, [textAt(r, 'instrument'), textAt(r, 'setting')].filter(Boolean).join(', ')),
          h('td', { class: 'number' }, expected(r, store)), h('td', { class: 'to-fill' }), h('td', {}, textAt(r, 'wrong'))))))),
    ];
  },
};
