// feeds.ts: pretravel and overtravel over the feed, and the window that results.
import { Chart, type Panel } from '../chart';
import { h } from '../dom';
import { axisUnit, outward, show } from '../format';
import { figures, listAt, numberAt, stateNote, table, textAt, type View } from './view';

/** the delay, or why no constant delay is told */
function delayText(line: unknown): string {
  const delay = numberAt(line, 'apparent_delay');
  return delay === null ? textAt(line, 'apparent_delay_why') : show(delay, 's');
}

export const feeds: View = {
  id: 'feeds',
  title: 'Feed window',
  documents: ['feeds'],
  draw(store, [document]) {
    const lines = listAt(document, 'directions');
    const [feedFactor, feedUnit] = axisUnit(1, 'm/s', store.system);
    const quantity = (name: string, title: string, unit: string, height: number): Panel | null => {
      const all = lines.flatMap((line) => listAt(line, 'rows').map((r) => Math.abs(numberAt(r, name) ?? 0)));
      const most = Math.max(...all, 0);
      if (!(most > 0)) {
        return null;
      }
      const [factor, label] = axisUnit(most, unit, store.system);
      return { title, unit: label, height, series: lines.map((line, i) => ({
        name: textAt(line, 'name'), style: i, points: true,
        data: listAt(line, 'rows').map((r): [number, number | null] => {
          const v = numberAt(r, name);
          return [(numberAt(r, 'feed') ?? 0) * feedFactor, v === null ? null : v * factor];
        }),
      })) };
    };
    const panels = [quantity('pretravel', 'pretravel at the output’s edge', 'm', 150), quantity('overtravel', 'overtravel until standstill', 'm', 130)]
      .filter((p): p is Panel => p !== null);
    const window = (line: unknown, name: string): number | null => numberAt(line, 'window', name);
    return [
      ...lines.map((line) => h('div', {}, h('h3', {}, textAt(line, 'name')), ...(stateNote(line).length ? stateNote(line) : [figures([
        ['slowest feed that trips', outward(window(line, 'slowest_feed'), 1, store.system)],
        ['the same with a fifth to spare', outward(window(line, 'slowest_feed_with_margin'), 1, store.system)],
        ['bound from charge leaking away', show(window(line, 'slowest_feed_static'), 'm/s', store.system)],
        ['fastest feed that stops in time', outward(window(line, 'fastest_feed'), -1, store.system)],
        ['feed to calibrate at', show(window(line, 'calibrate_at'), 'm/s', store.system)],
        ['delay that looks like an offset', delayText(line)],
        ['what ends it below', textAt((line as Record<string, unknown>)['window'], 'slow_end')],
        ['what ends it above', textAt((line as Record<string, unknown>)['window'], 'fast_end')],
      ])]))),
      panels.length ? new Chart({ label: 'pretravel and overtravel over the feed', x: `feed (${feedUnit})`, panels, logX: true }, store.source.report).element
        : h('p', { class: 'quiet' }, 'No feed of the list trips.'),
      h('details', { class: 'figures-table' }, h('summary', {}, 'as a table'),
        ...lines.map((line) => table(textAt(line, 'name'), ['feed', 'state', 'pretravel', 'position taken', 'overtravel'], listAt(line, 'rows').map((r) => [
          show(numberAt(r, 'feed'), 'm/s', store.system), textAt(r, 'state').replace(/_/g, ' '), show(numberAt(r, 'pretravel'), 'm', store.system),
          show(numberAt(r, 'latched'), 'm', store.system), show(numberAt(r, 'overtravel'), 'm', store.system)])))),
    ];
  },
};
