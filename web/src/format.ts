// format.ts: numbers as a person reads them: three significant figures, the handiest prefix, metric
// or inch.

export type System = 'metric' | 'inch';

const PREFIX = ['f', 'p', 'n', 'µ', 'm', '', 'k', 'M', 'G'];
const PLAIN = new Set(['', '1', 'deg', 'rad', 'kg', 'd', 'h', 'K/s', '%']);

export const missing = '–';

function digits(value: number, figures: number): string {
  if (value === 0) {
    return '0';
  }
  const size = Math.floor(Math.log10(Math.abs(value)) + 1e-12);
  const rounded = Number(value.toPrecision(figures));
  const places = Math.max(0, figures - 1 - Math.floor(Math.log10(Math.abs(rounded)) + 1e-12));
  return size > 8 || size < -6 ? value.toExponential(figures - 1) : rounded.toFixed(Math.min(places, 9));
}

function inch(value: number, figures: number): [string, string] {
  const inches = value / 0.0254;
  return Math.abs(inches) < 0.0995 ? [digits(inches * 1000, figures), 'thou'] : [digits(inches, figures), 'in'];
}

/** a feed rounded to the side on which it still works, in the unit in which it is shown: a slowest
 *  feed up (1), a fastest down (-1); as the command rounds it */
export function outward(value: number | null | undefined, way: number, system: System = 'metric', figures = 3): string {
  if (value === null || value === undefined || !Number.isFinite(value) || value === 0) {
    return show(value, 'm/s', system, figures);
  }
  const factor = system === 'inch' ? 60 / 0.0254 : 60000, shown = value * factor;
  const unit = 10 ** (Math.floor(Math.log10(Math.abs(shown))) - figures + 1);
  const steps = shown / unit, hair = 1e-9 * Math.abs(steps);
  return show((way > 0 ? Math.ceil(steps - hair) : Math.floor(steps + hair)) * unit / factor, 'm/s', system, figures);
}

/** number and unit apart, so that columns can align */
export function parts(value: number | null | undefined, unit: string, system: System = 'metric',
                      figures = 3): [string, string] {
  if (value === null || value === undefined || !Number.isFinite(value)) {
    return [missing, ''];
  }
  if (unit === 'm/s') {
    return system === 'inch' ? [digits(value / 0.0254 * 60, figures), 'in/min']
                             : [digits(value * 60000, figures), 'mm/min'];
  }
  if (unit === 'm' && system === 'inch') {
    return inch(value, figures);
  }
  if (unit === 'kg') {
    return [digits(value * 1000, figures), 'g'];
  }
  if (unit === 's' && Math.abs(value) >= 172800) {
    return [digits(value / 86400, figures), 'days'];
  }
  if (PLAIN.has(unit) || value === 0) {
    const bare = unit === '1' ? '' : unit === 'deg' ? '°' : unit;
    return [digits(value, figures), bare];
  }
  let step = Math.floor(Math.log10(Math.abs(Number(value.toPrecision(figures)))) / 3 + 1e-9) + 5;
  if (unit === 'N' && Math.abs(value) >= 0.01 && Math.abs(value) < 1000) {
    step = 5;
  }
  step = Math.max(0, Math.min(8, step));
  return [digits(value / 10 ** (3 * (step - 5)), figures), `${PREFIX[step]}${unit}`];
}

export function show(value: number | null | undefined, unit: string, system: System = 'metric',
                     figures = 3): string {
  const [number, name] = parts(value, unit, system, figures);
  return name === '' || name === '°' ? number + name : `${number} ${name}`;
}

/** one prefix for a whole axis: factor to multiply by, and the unit's name */
export function axisUnit(largest: number, unit: string, system: System): [number, string] {
  if (unit === 'm/s') {
    return system === 'inch' ? [60 / 0.0254, 'in/min'] : [60000, 'mm/min'];
  }
  if (unit === 'm' && system === 'inch') {
    return largest / 0.0254 < 0.1 ? [1000 / 0.0254, 'thou'] : [1 / 0.0254, 'in'];
  }
  if (PLAIN.has(unit) || !(largest > 0)) {
    return [1, unit];
  }
  let step = Math.floor(Math.log10(largest) / 3 + 1e-9) + 5;
  if (unit === 'N' && largest >= 0.01) {
    step = 5;
  }
  step = Math.max(0, Math.min(8, step));
  return [10 ** (-3 * (step - 5)), `${PREFIX[step]}${unit}`];
}

export function percent(fraction: number): string {
  return `${digits(fraction * 100, Math.abs(fraction) < 1 ? 2 : 3)} %`;
}

/** a share as batches state it: one decimal */
export function share(fraction: number): string {
  return `${(100 * fraction).toFixed(1)} %`;
}

/** two ends with the unit once, if it is the same */
export function between(low: string, high: string): string {
  const unit = /^[^ ]+ (.+)$/.exec(low)?.[1];
  return unit && high.endsWith(` ${unit}`) ? `${low.slice(0, -unit.length - 1)} … ${high}` : `${low} … ${high}`;
}

/** a requirement as the file has it, with the signs of print: "<= 80 um" -> "≤ 80 µm" */
export function ruleWords(text: string): string {
  return text.replace('<=', '≤').replace('>=', '≥').replace(/\bu(?=[mFAVgs]\b)/g, 'µ').replace(/ /g, '\u00a0');
}

const SIDES: Record<string, string> = { side: 'side', axial: 'axial' };
const AXES: Record<string, string> = { x: 'along X', y: 'along Y', z: 'along Z' };

/** a measure's name in plain words: trip_force_side -> side trip force */
export function words(name: string): string {
  const all = name.split('_');
  const last = all[all.length - 1] ?? '';
  if (all.length > 1 && SIDES[last]) {
    return `${SIDES[last]} ${all.slice(0, -1).join(' ')}`;
  }
  if (all.length > 1 && AXES[last]) {
    return `${all.slice(0, -1).join(' ')} ${AXES[last]}`;
  }
  return all.join(' ').replace(/\b3d\b/, '3-D').replace('2s', '2 s').replace(/\brms\b/, 'r.m.s.');
}

/** a field's key in plain words: ledge_radius -> ledge radius */
export function key(path: string): string {
  return (path.split('.').pop() ?? path).replace(/_/g, ' ');
}
