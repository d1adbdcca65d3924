// chart.ts: line charts on one common x axis, one or several panels under each other.
import { LineChart, ScatterChart } from 'echarts/charts';
import { AxisPointerComponent, DataZoomComponent, GridComponent, MarkAreaComponent, MarkLineComponent } from 'echarts/components';
import * as echarts from 'echarts/core';
import { CanvasRenderer, SVGRenderer } from 'echarts/renderers';
import { h } from './dom';

echarts.use([LineChart, ScatterChart, GridComponent, DataZoomComponent, MarkLineComponent, MarkAreaComponent, AxisPointerComponent,
  CanvasRenderer, SVGRenderer]);

export interface Series {
  name: string;
  data: [number, number | null][];
  /** which of the series colours, with its own dash and marker */
  style: number;
  step?: boolean;
  points?: boolean;
}
export interface Panel {
  title: string;
  unit: string;
  height: number;
  series: Series[];
  levels?: { value: number; label: string; atStart?: boolean }[];
  band?: [number, number];
  log?: boolean;
  flat?: boolean;
  /** ends of the axis; the data's own where they are not given */
  from?: number;
  to?: number;
}
export interface ChartSpec {
  label: string;
  x: string;
  panels: Panel[];
  marks?: { x: number; label: string }[];
  logX?: boolean;
  zoom?: boolean;
  range?: [number, number];
  /** how much of the range is shown at first, from its beginning */
  first?: number;
}

const DASH: (string | number[])[] = ['solid', [7, 3], [2, 3], [10, 3, 2, 3], [5, 2], 'solid'];
const MARKER = ['circle', 'triangle', 'rect', 'diamond', 'emptyCircle', 'pin'];

function css(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** the same colour, dash and marker in the chart and in its key */
export function keyOf(style: number, name: string): HTMLElement {
  const svgNs = 'http://www.w3.org/2000/svg';
  const svg = document.createElementNS(svgNs, 'svg');
  svg.setAttribute('viewBox', '0 0 30 10');
  svg.setAttribute('class', `line-key series-${style}`);
  svg.setAttribute('aria-hidden', 'true');
  const line = document.createElementNS(svgNs, 'path');
  line.setAttribute('d', 'M1 5H29');
  const dash = DASH[style % DASH.length];
  if (Array.isArray(dash)) {
    line.setAttribute('stroke-dasharray', dash.join(' '));
  }
  svg.append(line);
  return h('span', { class: 'key-entry' }, svg, name);
}

/** height of a row of labels over the first panel */
const ROW = 15;

const round = (value: number): string => String(Number(value.toPrecision(4)));
/** the ends of a logarithmic axis are seldom round */
const rounder = (value: number): string => String(Number(value.toPrecision(3)));

const charts = new Set<Chart>();

export function redrawCharts(): void {
  for (const chart of charts) {
    /* one that was replaced by a newer picture */
    if (chart.element.isConnected) {
      chart.redraw();
    } else {
      chart.dispose();
    }
  }
}

export class Chart {
  readonly element: HTMLElement;
  private readonly host: HTMLElement;
  private chart: echarts.ECharts | null = null;

  constructor(private readonly spec: ChartSpec, private readonly vector: boolean) {
    const height = spec.panels.reduce((sum, p) => sum + p.height + 34, 0) + (spec.zoom ? 88 : 52) + ROW * (spec.marks?.length ?? 0);
    this.host = h('div', { class: 'chart', role: 'img', 'aria-label': spec.label });
    this.host.style.height = `${height}px`;
    const keys = spec.panels.flatMap((p) => (p.series.length > 1 ? p.series : [])).filter((one, i, all) => all.findIndex((o) => o.name === one.name) === i);
    this.element = h('figure', { class: 'figure' }, this.host,
      keys.length ? h('figcaption', { class: 'keys' }, ...keys.map((k) => keyOf(k.style, k.name))) : null);
    charts.add(this);
    const watch = new ResizeObserver(() => {
      if (!this.host.isConnected) {
        return;
      }
      if (this.host.clientWidth > 0) {
        this.chart ? this.chart.resize() : this.redraw();
      }
    });
    watch.observe(this.host);
  }

  dispose(): void {
    this.chart?.dispose();
    charts.delete(this);
  }

  redraw(): void {
    if (this.host.clientWidth === 0) {
      return;
    }
    this.chart ??= echarts.init(this.host, null, { renderer: this.vector ? 'svg' : 'canvas' });
    this.chart.setOption(this.option(), true);
  }

  private option(): echarts.EChartsCoreOption {
    const { spec } = this;
    const ink = css('--ink'), thin = css('--thin'), faint = css('--rule');
    const font = { color: ink, fontSize: 12, fontFamily: css('--sans') };
    const narrow = this.host.clientWidth < 520;
    const left = 62, right = narrow ? 14 : 24;
    const rows = spec.marks?.length ?? 0;
    let top = 26 + ROW * rows;
    const grid: object[] = [], xAxis: object[] = [], yAxis: object[] = [], series: object[] = [];
    spec.panels.forEach((panel, i) => {
      const last = i === spec.panels.length - 1;
      grid.push({ left, right, top, height: panel.height, outerBoundsMode: 'none' });
      xAxis.push({
        type: spec.logX ? 'log' : 'value', gridIndex: i, min: spec.range?.[0] ?? 'dataMin', max: spec.range?.[1] ?? 'dataMax',
        name: last ? spec.x : '', nameLocation: 'middle', nameGap: 28, nameTextStyle: font, axisLabel: { ...font, show: last, hideOverlap: true, formatter: spec.logX ? rounder : round },
        axisTick: { show: last }, axisLine: { lineStyle: { color: thin }, onZero: false }, splitLine: { lineStyle: { color: faint } },
      });
      yAxis.push({
        type: panel.log ? 'log' : 'value', gridIndex: i, scale: true, ...(panel.from !== undefined ? { min: panel.from } : {}), ...(panel.to !== undefined ? { max: panel.to } : {}), name: `${panel.title}${panel.unit ? ` (${panel.unit})` : ''}`,
        nameTextStyle: { ...font, align: 'left', padding: [0, 0, 0, -52] }, nameGap: i === 0 ? 9 + ROW * rows : 9, axisLabel: { ...font, show: !panel.flat, hideOverlap: true, formatter: round },
        splitNumber: panel.height < 90 ? 2 : 4, axisLine: { show: true, lineStyle: { color: thin } }, splitLine: { lineStyle: { color: faint } },
      });
      panel.series.forEach((one, k) => series.push(this.series(one, i, k === 0 ? panel : null, spec.marks ?? [], i === 0)));
      top += panel.height + 34;
    });
    const indexes = spec.panels.map((_, i) => i);
    return {
      animation: false, grid, xAxis, yAxis, series, textStyle: font,
      axisPointer: { link: [{ xAxisIndex: 'all' }] },
      dataZoom: spec.zoom ? [
        { type: 'inside', xAxisIndex: indexes, filterMode: 'none', start: 0, end: 100 * (spec.first ?? 1), zoomOnMouseWheel: 'ctrl', moveOnMouseWheel: false },
        { type: 'slider', xAxisIndex: indexes, filterMode: 'none', height: 20, bottom: 6, borderColor: thin, textStyle: font, brushSelect: false,
          start: 0, end: 100 * (spec.first ?? 1), showDetail: false, fillerColor: css('--wash'), handleStyle: { color: css('--paper'), borderColor: ink }, dataBackground: { lineStyle: { opacity: 0 }, areaStyle: { opacity: 0 } } },
      ] : [],
    };
  }

  private series(one: Series, index: number, panel: Panel | null, marks: { x: number; label: string }[], labelled: boolean): object {
    const colour = css(`--series-${one.style % 6}`);
    const thin = css('--thin');
    const font = { color: css('--ink'), fontSize: 12, fontFamily: css('--sans') };
    const lines: object[] = [];
    if (panel) {
      for (const [row, mark] of marks.entries()) {
        /* each label in a row of its own: they lie close together; in the right half it ends at its line */
        const [low, high] = this.spec.range ?? [0, Infinity];
        const align = mark.x > (this.spec.logX ? Math.sqrt(low * high) : 0.5 * (low + high)) ? 'right' : 'left';
        lines.push({ xAxis: mark.x, label: { show: labelled, formatter: mark.label, position: 'end', distance: 2 + ROW * row, align, ...font }, lineStyle: { color: thin, type: [4, 3], width: 1 } });
      }
      const top = Math.max(...(panel.levels ?? []).map((l) => l.value));
      for (const level of panel.levels ?? []) {
        lines.push({ yAxis: level.value, label: { formatter: level.label, position: level.atStart ? 'insideStartTop' : level.value === top ? 'insideEndTop' : 'insideEndBottom', ...font }, lineStyle: { color: css('--series-4'), type: 'dashed', width: 1 } });
      }
    }
    return {
      type: 'line', name: one.name, xAxisIndex: index, yAxisIndex: index, data: one.data, step: one.step ? 'end' : false,
      showSymbol: one.points ?? false, symbol: MARKER[one.style % MARKER.length], symbolSize: 7, connectNulls: false, silent: true,
      lineStyle: { color: colour, width: 2, type: DASH[one.style % DASH.length] }, itemStyle: { color: colour },
      /* the default precision would put a line at 0.00611 on 0.01 */
      markLine: lines.length ? { symbol: 'none', silent: true, animation: false, precision: 12, data: lines } : undefined,
      markArea: panel?.band ? { silent: true, itemStyle: { color: css('--wash') }, data: [[{ yAxis: panel.band[0] }, { yAxis: panel.band[1] }]] } : undefined,
    };
  }
}
