// report.ts: what only the report has: its first page with cautions, and the table of inputs.
import { h } from './dom';
import { key } from './format';
import { groupOf } from './fields';
import type { Store } from './store';

const CAUTIONS = [
  'These figures are computed from the inputs listed at the end; where they rest on assumed values, measure before you rely on them.',
  'A probe is never a safety device: “not tripped” is no proof of clearance, and a piezo output reads free again while held against the work.',
  'First moves with the spindle stopped and locked out, feed limited, a hand on the stop, guards closed where your machine has them, eye protection on.',
  'Read any program before you run it. Resin, solvents, adhesives and lithium cells have their own data sheets. Local rules and licensed practice go before anything said here.',
];

export function reportHead(store: Store): HTMLElement {
  const design = store.design;
  const check = store.evaluation?.check;
  const names = store.evaluation?.requirements ?? [];
  const met = names.filter((n) => check?.measures[n]?.met === true).length;
  return h('header', { class: 'report-head' },
    h('p', { class: 'quiet' }, `tripwright ${design?.version ?? ''} · ${design?.date ?? ''}`),
    h('h1', {}, design?.name ?? ''),
    h('p', {}, `Revision ${design?.revision ?? ''} · ${design?.file ?? ''} · fingerprint ${design?.fingerprint ?? ''}`),
    h('p', { class: 'verdict' }, check?.verdict?.sentence ?? (names.length ? `${met} of ${names.length} requirements met` : 'no requirements stated')),
    h('section', { class: 'cautions', 'aria-labelledby': 'cautions-title' }, h('h2', { id: 'cautions-title' }, 'Cautions'), h('ul', {}, ...CAUTIONS.map((c) => h('li', {}, c)))));
}

export function reportInputs(store: Store): HTMLElement {
  const design = store.design;
  const fields = (design?.fields ?? []).filter((f) => {
    const value = design?.values[f.path];
    return value && value.origin !== 'unset' && value.applies;
  });
  const groups = [...new Set(fields.map((f) => groupOf(f.path)))];
  return h('section', { class: 'view inputs', 'aria-labelledby': 'inputs-title' }, h('h2', { id: 'inputs-title' }, 'Inputs'),
    h('p', { class: 'quiet' }, 'Every value that the figures rest on, with its tolerance and where it comes from.'),
    ...groups.map((g) => h('div', { class: 'input-group' }, h('h3', {}, g || 'design'),
      h('table', {}, h('thead', {}, h('tr', {}, ...['value', 'is', 'from', 'source of the default'].map((t) => h('th', { scope: 'col' }, t)))),
        h('tbody', {}, ...fields.filter((f) => groupOf(f.path) === g).map((f) => {
          const v = design?.values[f.path];
          return h('tr', {}, h('th', { scope: 'row' }, key(f.path)), h('td', {}, v?.shown ?? ''), h('td', {}, v?.origin ?? ''), h('td', {}, v?.origin === 'default' ? f.source : ''));
        }))))));
}
