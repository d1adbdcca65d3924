// bench.ts: the card that goes to the bench: what each test point should show, with room to write
// down what it does show.
import { h } from '../dom';
import { show } from '../format';
import type { Store } from '../store';
import { listAt, numberAt, textAt, type View } from './view';

function range(row: unknown, name: string, unit: string, store: Store): string {
  const [low, high] = listAt(row, name).map(Number);
  return low === undefined || high === undefined || low === high ? '' : `${show(low, unit, store.system)} to ${show(high, unit, store.system)}`;
}

function expected(row: unknown, store: Store): (HTMLElement | string)[] {
  const unit = textAt(row, 'unit');
  const word = textAt(row, 'word');
  if (word) {
    return [word];
  }
  const loaded = numberAt(row, 'shown');
  const value = loaded ?? numberAt(row, 'value');
  if (value === null) {
    return [h('span', { class: 'quiet' }, `not known: ${textAt(row, 'why')}`)];
  }
  const lines: (HTMLElement | string)[] = [h('b', {}, show(value, unit, store.system)), h('br'), range(row, loaded !== null ? 'shown_band' : 'band', unit, store)];
  if (loaded !== null) {
    lines.push(h('br'), h('span', { class: 'quiet' }, `without the instrument ${show(numberAt(row, 'value'), unit, store.system)}: ${textAt(row, 'loading')}`));
  }
  return lines;
}

function found(row: unknown, store: Store): string {
  const measured = numberAt(row, 'measured');
  return measured === null ? '' : `${show(measured, textAt(row, 'unit'), store.system)}: ${textAt(row, 'reads')}`;
}

export const bench: View = {
  id: 'bench',
  title: 'Bench card',
  documents: ['expect'],
  draw(store, [document]) {
    const rows = listAt(document, 'checks');
    return [
      h('p', { class: 'caution' }, 'Switch the supply off before soldering or clipping on. Lithium cells, resin, solvents and adhesives have their own data sheets. Wear eye protection when weights hang from a stylus.'),
      h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': 'bench card' }, h('table', { class: 'bench' },
        h('thead', {}, h('tr', {}, ...['check', 'how', 'should show', 'found', 'too low means', 'too high means'].map((t) => h('th', { scope: 'col' }, t)))),
        h('tbody', {}, ...rows.map((r) => h('tr', {},
          h('th', { scope: 'row' }, textAt(r, 'title'), textAt(r, 'note') ? h('span', { class: 'quiet' }, h('br'), textAt(r, 'note')) : null),
          h('td', {}, `${textAt(r, 'point')}: ${textAt(r, 'instrument')}`, h('br'), h('span', { class: 'quiet' }, textAt(r, 'setting'))),
          h('td', {}, ...expected(r, store)), h('td', { class: 'to-fill' }, found(r, store)),
          h('td', {}, textAt(r, 'if_low')), h('td', {}, textAt(r, 'if_high'))))))),
    ];
  },
};
