// remedy.ts: the least that has to be changed, ranked, each way to be tried on the page.
import { h } from '../dom';
import { percent, ruleWords, show, words } from '../format';
import type { Store } from '../store';
import type { Edits, ViewDocument } from '../types';
import { quoted, type Ask, type Study } from './study';
import { listAt, numberAt, table, textAt } from './view';

function margin(value: number | null): string {
  return value === null ? 'none' : `${value < 0 ? '−' : '+'}${percent(Math.abs(value))}`;
}

function time(seconds: number): string {
  return seconds >= 86400 ? `${Number((seconds / 86400).toPrecision(3))} days` : `${Number((seconds / 3600).toPrecision(3))} hours`;
}

function found(rule: unknown, store: Store): string {
  const one = (rule as Record<string, unknown>)['found'];
  const value = (one as Record<string, unknown>)['value'];
  return typeof value === 'boolean' ? (value ? 'yes' : 'no') : typeof value === 'number' ? show(value, textAt(one, 'unit'), store.system) : textAt(one, 'state').replace(/_/g, ' ');
}

function way(store: Store, one: unknown, title: string): HTMLElement {
  const changes = listAt(one, 'changes');
  const cost = numberAt(one, 'cost') ?? 0, seconds = numberAt(one, 'time') ?? 0;
  const share = numberAt(one, 'yield');
  const edits: Edits = Object.fromEntries(changes.map((c) => [textAt(c, 'field'), textAt(c, 'text')]));
  const tried = Object.entries(edits).every(([path, text]) => store.edits[path] === text);
  const rules = listAt(one, 'requirements');
  return h('li', { class: 'remedy' }, h('div', { class: 'remedy-head' }, h('h3', {}, title),
    store.source.report ? null : h('button', { type: 'button', class: 'go', disabled: tried, click: () => store.editAll(edits) }, tried ? 'Tried' : 'Try it')),
    h('ul', { class: 'remedy-changes' }, ...changes.map((c) => h('li', {}, h('code', {}, textAt(c, 'field')), ': ', h('span', { class: 'quiet' }, textAt((c as Record<string, unknown>)['from'], 'shown')), ' → ', h('b', {}, textAt((c as Record<string, unknown>)['to'], 'shown')),
      h('span', { class: 'quiet' }, ` (${textAt(c, 'part')})`)))),
    h('p', {}, cost > 0 || seconds > 0 ? `Costs ${Number(cost.toPrecision(4))}, takes ${time(seconds)}. ` : '', `Smallest margin ${margin(numberAt(one, 'margin'))} (${words(textAt(one, 'worst'))}).`,
      share === null ? '' : ` About ${percent(share)} of a batch would be good.`),
    table(`margins of ${title.toLowerCase()} before and after`, ['requirement', 'then', 'margin before → after'], rules.map((r) => {
      const word = typeof ((r as Record<string, unknown>)['found'] as Record<string, unknown>)['value'] === 'boolean';
      const said = (value: number | null): string => (word ? (value !== null && value >= 0 ? 'met' : 'not met') : margin(value));
      const after = said(numberAt(r, 'margin'));
      return [h('span', {}, words(textAt(r, 'measure')), ' ', h('span', { class: 'quiet' }, ruleWords(textAt(r, 'text')))), word ? '' : found(r, store),
        h('span', {}, h('span', { class: 'quiet' }, `${said(numberAt(r, 'margin_before'))} → `), (r as Record<string, unknown>)['met'] === true ? after : h('b', { class: 'trips' }, word ? after : `${after}, not met`))];
    })));
}

function none(store: Store, document: ViewDocument): Node[] {
  const e = document['exclusion'];
  const nearest = document['nearest'];
  const one = words(textAt(e, 'one')), other = words(textAt(e, 'other'));
  return [
    h('p', { class: 'study-head' }, `No change was found that meets every requirement${document['complete'] === true ? '; all were tried' : ''}.`),
    !e ? null : one === other ? h('p', {}, `${one} cannot be met within these ranges: its best margin is ${margin(numberAt(e, 'together'))}.`)
      : h('p', {}, `${one} and ${other} exclude each other: the best that both have together is a margin of ${margin(numberAt(e, 'together'))}, alone ${margin(numberAt(e, 'one_alone'))} and ${margin(numberAt(e, 'other_alone'))}.`),
    nearest ? h('ol', { class: 'remedies' }, way(store, nearest, 'What comes nearest')) : null,
  ].filter((n) => n !== null) as Node[];
}

function partsNote(document: ViewDocument): HTMLElement {
  const parts = listAt(document, 'parts');
  const fixed = parts.filter((p) => (p as Record<string, unknown>)['fixed'] === true).map((p) => textAt(p, 'part'));
  const unknown = parts.filter((p) => (numberAt(p, 'cost') ?? 0) === 0 && (numberAt(p, 'time') ?? 0) === 0).length;
  return h('p', { class: 'quiet' }, `${textAt(document, 'levers')} values may be changed; ${textAt(document, 'evaluations')} designs were tried.`,
    fixed.length ? ` Fixed: ${fixed.join(', ')}.` : '', unknown ? ` Of ${unknown} parts the file states neither cost nor time (parts.NAME), so these count as nothing.` : '');
}

const names = (text: string | undefined): string[] => (text ?? '').split(',').map((w) => w.trim()).filter(Boolean);
const share = (text: string | undefined): number => Number(text) / 100;

function ask(answers: Record<string, string>): Ask {
  return {
    wanted: Number(answers['wanted']),
    ...(names(answers['keep']).length ? { keep: names(answers['keep']) } : {}), ...(names(answers['free']).length ? { free: names(answers['free']) } : {}),
    ...(names(answers['ranges']).length ? { ranges: names(answers['ranges']) } : {}),
    ...(Number(answers['safety']) ? { safety: share(answers['safety']) } : {}), ...(Number(answers['yield']) ? { yield: share(answers['yield']) } : {}),
    ...(Number(answers['budget']) === 1500 ? {} : { budget: Number(answers['budget']) }),
  };
}

export const remedy: Study = {
  id: 'remedy',
  title: 'Remedy',
  about: 'The smallest change that meets every requirement, sorted by time and cost. What is ordered, in hand or fitted stays as it is. A way that is tried is an unsaved change like any other.',
  questions: () => [
    { name: 'safety', label: 'margin to spare, %', kind: 'number', value: '5', least: 0, most: 99 },
    { name: 'keep', label: 'parts or fields that stay', kind: 'text', value: '', hint: 'such as board, stylus.reach' },
    { name: 'wanted', label: 'ways to look for', kind: 'number', value: '3', least: 1, most: 24, more: true },
    { name: 'free', label: 'parts that may move after all', kind: 'text', value: '', more: true },
    { name: 'ranges', label: 'how far values may go', kind: 'text', value: '', hint: 'such as preload.force=0.5..1N', more: true },
    { name: 'yield', label: 'share of a batch that must be good, %', kind: 'number', value: '0', least: 0, most: 99, more: true },
    { name: 'budget', label: 'designs to try, about', kind: 'number', value: '1500', least: 10, most: 100000, more: true },
  ],
  ask,
  command(answers, store) {
    const list = (option: string): string => names(answers[option]).map((w) => ` --${option === 'ranges' ? 'range' : option} ${quoted(w)}`).join('');
    return `tripwright remedy ${quoted(store.design?.file ?? '')} --wanted ${answers['wanted']}${list('keep')}${list('free')}${list('ranges')}`
      + `${Number(answers['safety']) ? ` --safety ${share(answers['safety'])}` : ''}${Number(answers['yield']) ? ` --yield ${share(answers['yield'])}` : ''}${Number(answers['budget']) === 1500 ? '' : ` --budget ${answers['budget']}`}`;
  },
  draw(store, document) {
    const list = listAt(document, 'remedies');
    if (document['met'] === true) {
      return [h('p', { class: 'study-head' }, `Every requirement is met already; the smallest margin is ${margin(numberAt(document, 'margin'))} (${words(textAt(document, 'worst'))}).`), partsNote(document)];
    }
    const head = list.length === 0 ? none(store, document) : [
      h('p', { class: 'study-head' }, `${list.length === 1 ? 'One way' : `${list.length} ways`} to meet every requirement, sorted by time and cost.`),
      h('ol', { class: 'remedies' }, ...list.map((one, i) => way(store, one, `Way ${i + 1}`)))];
    return [...head, h('p', { class: 'quiet' }, store.source.report ? 'Judged at the level below: check the design with the change before you rely on it.' : 'Judged at the level below; after a try the requirements beside say what the full assessment finds.'), partsNote(document)];
  },
};
