// feeds.ts: pretravel, overtravel and peak force over the feed, and the window that results.
import { Chart, type Panel } from '../chart';
import { h } from '../dom';
import { axisUnit, show } from '../format';
import { figures, listAt, numberAt, table, textAt, type View } from './view';

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
    const panels = [quantity('pretravel', 'pretravel', 'm', 150), quantity('overtravel', 'overtravel', 'm', 110), quantity('peak_force', 'peak force', 'N', 110)]
      .filter((p): p is Panel => p !== null);
    const measures = store.evaluation?.check.measures ?? {};
    const figure = (name: string): number | null => (typeof measures[name]?.value === 'number' ? (measures[name]?.value as number) : null);
    return [
      figures([
        ['slowest feed that trips', show(figure('slowest_feed'), 'm/s', store.system)],
        ['bound from charge leaking away', show(figure('slowest_feed_static'), 'm/s', store.system)],
        ['fastest feed that stops in time', show(figure('fastest_feed'), 'm/s', store.system)],
        ['delay that looks like an offset', show(figure('apparent_delay'), 's')],
      ]),
      panels.length ? new Chart({ label: 'pretravel, overtravel and peak force over the feed', x: `feed (${feedUnit})`, panels, logX: true }, store.source.report).element
        : h('p', { class: 'quiet' }, 'No feed of the list trips.'),
      h('details', { class: 'figures-table' }, h('summary', {}, 'as a table'),
        ...lines.map((line) => table(textAt(line, 'name'), ['feed', 'state', 'pretravel', 'overtravel', 'peak force'], listAt(line, 'rows').map((r) => [
          show(numberAt(r, 'feed'), 'm/s', store.system), textAt(r, 'state').replace(/_/g, ' '), show(numberAt(r, 'pretravel'), 'm', store.system),
          show(numberAt(r, 'overtravel'), 'm', store.system), show(numberAt(r, 'peak_force'), 'N')])))),
    ];
  },
};
