// touch.ts: one touch in time: strips on one time axis, the trip, the sample that saw it and the
// standstill as lines across all of them.
import { Chart, type Panel } from '../chart';
import { h } from '../dom';
import { axisUnit, show } from '../format';
import type { Store } from '../store';
import { figures, listAt, numberAt, textAt, stateNote, type View } from './view';

function numbers(document: unknown, name: string): number[] {
  return listAt(document, name).map((v) => (typeof v === 'number' ? v : NaN));
}

/** when the controller looks: every interval, one of them being the sample that saw the touch */
function samplesOf(touch: unknown, end: number): number[] {
  const seen = numberAt(touch, 't_sample'), every = numberAt(touch, 'sampling_interval');
  if (seen === null || !every || end / every > 2000) {
    return [];
  }
  const first = seen - Math.floor(seen / every) * every;
  return Array.from({ length: Math.max(0, Math.floor((end - first) / every) + 1) }, (_, i) => first + i * every);
}

const MARKS: [string, string][] = [['t_output', 'trip'], ['t_sample', 'sample'], ['t_stop_start', 'stop begins'], ['t_stop_end', 'standstill']];

function strip(title: string, unit: string, time: number[], values: number[], style: number, height: number, store: Store, step = false): Panel {
  const most = Math.max(...values.map((v) => Math.abs(v)).filter(Number.isFinite), 0);
  const [factor, name] = axisUnit(most, unit, store.system);
  return { title, unit: name, height, series: [{ name: title, style, step, data: time.map((t, i) => [t * 1000, Number.isFinite(values[i]) ? (values[i] as number) * factor : null]) }] };
}

function one(touch: unknown, store: Store): HTMLElement {
  const curve = (touch as Record<string, unknown>)['trace'];
  const time = numbers(curve, 'time');
  const name = textAt(touch, 'name') || 'touch';
  const state = textAt(touch, 'state');
  const feed = numberAt(touch, 'feed');
  const note = stateNote(touch);
  if (note.length) {
    return h('div', { class: 'touch-one' }, h('h3', {}, name), ...note);
  }
  const panels: Panel[] = [];
  panels.push(strip('force at the tip', 'N', time, numbers(curve, 'force'), 0, 110, store));
  const node = numbers(curve, 'node');
  if (node.some(Number.isFinite)) {
    const panel = strip('node', 'V', time, node, 1, 110, store);
    const [factor] = axisUnit(Math.max(...node.map(Math.abs).filter(Number.isFinite), 0), 'V', store.system);
    const trip = numberAt(touch, 'levels', 'trip'), release = numberAt(touch, 'levels', 'release');
    if (trip !== null) {
      panel.levels = [{ value: trip * factor, label: 'trips' }];
      if (release !== null) {
        panel.levels.push({ value: release * factor, label: 'releases' });
        panel.band = [Math.min(trip, release) * factor, Math.max(trip, release) * factor];
      }
    }
    panels.push(panel);
  }
  panels.push(strip('output', 'V', time, numbers(curve, 'output'), 2, 54, store, true));
  const samples = samplesOf(touch, time[time.length - 1] ?? 0);
  if (samples.length) {
    panels.push({ title: 'controller looks', unit: '', height: 34, flat: true,
      series: [{ name: 'samples', style: 3, points: true, data: samples.flatMap((t): [number, number | null][] => [[t * 1000, 0], [t * 1000, null]]) }] });
  }
  const marks = MARKS.flatMap(([key, label]) => {
    const t = numberAt(touch, key);
    return t === null ? [] : [{ x: t * 1000, label }];
  });
  const end = time[time.length - 1] ?? 0.01;
  const chart = new Chart({ label: `${name}: force, node voltage and output over time`, x: 'time after first contact (ms)', panels, marks, zoom: !store.source.report,
    range: [0, end * 1000], first: Math.min(1, (1.4 * (numberAt(touch, 't_stop_end') ?? end)) / end) }, store.source.report);
  return h('div', { class: 'touch-one' },
    h('h3', {}, `${name}${feed !== null ? ` at ${show(feed, 'm/s', store.system)}` : ''}`),
    state !== 'ok' && state ? h('p', { class: 'stale' }, `This touch: ${state.replace(/_/g, ' ')}.`) : null,
    chart.element,
    figures([
      ['trip at the comparator', show(numberAt(touch, 't_threshold'), 's')],
      ['output switches', show(numberAt(touch, 't_output'), 's')],
      ['pretravel at this feed', show(numberAt(touch, 'pretravel'), 'm', store.system)],
      ['overtravel until standstill', show(numberAt(touch, 'overtravel'), 'm', store.system)],
      ['peak force', show(numberAt(touch, 'peak_force'), 'N')],
      ['output ends', show(numberAt(touch, 'output_end'), 's')],
      ['ready for the next touch', show(numberAt(touch, 'ready_time'), 's')],
      ['extra edges', String(numberAt(touch, 'chatter') ?? '')],
    ]));
}

export const touch: View = {
  id: 'touch',
  title: 'Touch in time',
  documents: ['touch'],
  draw(store, [document]) {
    const touches = listAt(document, 'touches');
    return touches.length ? touches.map((t) => one(t, store)) : [h('p', { class: 'quiet' }, 'There is no touch to show.')];
  },
};
