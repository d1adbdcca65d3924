// bench.ts: the card that goes to the bench: what each test point should show, with room to write
// down what it does show.
import { h } from '../dom';
import { show } from '../format';
import type { Store } from '../store';
import { Suspects } from './suspects';
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
  const other = textAt(row, loaded !== null ? 'shown_beside' : 'beside', 'text');
  const lines: (HTMLElement | string)[] = [h('b', {}, show(value, unit, store.system)), other ? `, that is ${other}` : '', h('br'), range(row, loaded !== null ? 'shown_band' : 'band', unit, store)];
  if (loaded !== null) {
    lines.push(h('br'), h('span', { class: 'quiet' }, `without the instrument ${show(numberAt(row, 'value'), unit, store.system)}: ${textAt(row, 'loading')}`));
  }
  return lines;
}

function found(row: unknown, store: Store): string {
  const measured = numberAt(row, 'measured');
  return measured === null ? '' : `${show(measured, textAt(row, 'unit'), store.system)}: ${textAt(row, 'reads')}`;
}

/** the readings outlive a new drawing of the card */
let suspects: Suspects | null = null;

export const bench: View = {
  id: 'bench',
  title: 'Bench card',
  documents: ['expect'],
  draw(store, [document]) {
    const rows = listAt(document, 'checks');
    const search = store.source.report ? null : (suspects ??= new Suspects(store));
    return [
      h('p', { class: 'caution' }, 'Switch the supply off before soldering or clipping on. Lithium cells, resin, solvents and adhesives have their own data sheets. Wear eye protection when weights hang from a stylus.'),
      ...(search ? [search.element] : []),
      h('ol', { class: 'bench' }, ...rows.map((r) => h('li', {},
        h('div', { class: 'bench-what' }, h('h3', {}, textAt(r, 'title')), h('p', {}, `${textAt(r, 'point')}: ${textAt(r, 'instrument')}`), h('p', { class: 'quiet' }, textAt(r, 'setting'))),
        h('div', { class: 'bench-value' }, ...expected(r, store)),
        h('div', { class: 'bench-found' }, h('span', { class: 'quiet' }, 'found '), found(r, store), search?.box(textAt(r, 'check'), textAt(r, 'title')) ?? null),
        h('p', { class: 'bench-wrong' }, textAt(r, 'if_low') ? h('span', {}, h('b', {}, 'too low: '), textAt(r, 'if_low'), '. ') : null,
          textAt(r, 'if_high') ? h('span', {}, h('b', {}, 'too high: '), textAt(r, 'if_high'), '.') : null),
        textAt(r, 'note') ? h('p', { class: 'bench-wrong quiet' }, textAt(r, 'note')) : null))),
    ];
  },
};
