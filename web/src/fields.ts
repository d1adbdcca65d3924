// fields.ts: the fields of the part that was clicked, made from the table; changed while typing.
import { h, replace } from './dom';
import { key } from './format';
import type { FieldInfo, Message } from './types';
import type { Store } from './store';

const GROUP_NAMES: Record<string, string> = {
  stylus: 'Stylus and ball tip', seat: 'Carrier and seat', disc: 'Piezo disc', support: 'Support of the disc',
  preload: 'Preload', holddown: 'Hold-down', circuit: 'Circuit', output: 'Output', link: 'Link', housing: 'Housing and screws',
  board: 'Board', stack: 'Axial stack', machine: 'Machine and controller', environment: 'Surroundings',
  measured: 'Measured on this unit', costs: 'Costs', '': 'Design',
};

/** groups that open together with a part */
const WITH: Record<string, string[]> = { circuit: ['circuit', 'board', 'output'], housing: ['housing', 'stack'] };

export function groupOf(path: string): string {
  const dot = path.indexOf('.');
  return dot < 0 ? '' : path.slice(0, dot);
}

const ORIGIN_HELP: Record<string, string> = {
  default: 'default of the table', library: 'from the parts library', shop: 'from the shop file',
  base: 'from the file this one is based on', given: 'given in the file', set: 'tried here, not saved',
  measured: 'measured on this unit', unset: 'not set',
};

export class Fields {
  readonly element = h('section', { class: 'fields', 'aria-labelledby': 'fields-title' });
  private groups: string[] = [];
  private rows = new Map<string, { row: HTMLElement; input: HTMLInputElement | HTMLSelectElement }>();
  private showing = '';
  private everything = false;
  private search = '';

  constructor(private readonly store: Store, private readonly closed: () => void) {
    this.element.hidden = true;
  }

  get isOpen(): boolean {
    return !this.element.hidden;
  }

  /** open the fields of a part's group, or the one field with this path */
  open(target: string): void {
    const group = target.includes('.') ? groupOf(target) : target;
    this.groups = WITH[group] ?? [group];
    if (target.includes('.') && !this.groups.includes(group)) {
      this.groups = [group];
    }
    this.search = '';
    this.element.hidden = false;
    this.showing = '';
    this.draw();
    const row = this.rows.get(target);
    if (row) {
      row.row.scrollIntoView({ block: 'center' });
      row.input.focus();
    } else {
      this.element.querySelector<HTMLElement>('h2')?.focus();
    }
  }

  close(): void {
    this.element.hidden = true;
    this.closed();
  }

  private wanted(): FieldInfo[] {
    const all = this.store.design?.fields ?? [];
    const find = this.search.trim().toLowerCase();
    if (find) {
      return all.filter((f) => `${f.path.replace(/_/g, ' ')} ${f.path} ${f.help}`.toLowerCase().includes(find));
    }
    return all.filter((f) => {
      const value = this.store.value(f.path);
      const plain = value && (value.origin !== 'library' || f.path in this.store.edits);
      return this.groups.includes(groupOf(f.path)) && value?.applies !== false && (this.everything || plain);
    });
  }

  draw(): void {
    if (!this.isOpen || !this.store.design) {
      return;
    }
    const fields = this.wanted();
    const id = fields.map((f) => f.path).join('|') + this.store.source.report + this.groups.join();
    if (id !== this.showing) {
      this.showing = id;
      this.build(fields);
    }
    for (const field of fields) {
      this.refresh(field);
    }
  }

  private build(fields: FieldInfo[]): void {
    this.rows.clear();
    const names = [...new Set(fields.map((f) => groupOf(f.path)))];
    const searching = document.activeElement?.classList.contains('field-search') ?? false;
    const search = h('input', { type: 'search', class: 'field-search', placeholder: 'find a field', 'aria-label': 'find a field', value: this.search,
      input: (e) => { this.search = (e.target as HTMLInputElement).value; this.draw(); } });
    const select = h('select', { 'aria-label': 'group of fields', change: (e) => this.open((e.target as HTMLSelectElement).value) },
      ...[...new Set((this.store.design?.fields ?? []).map((f) => groupOf(f.path)))].map((g) => {
        const option = h('option', { value: g }, GROUP_NAMES[g] ?? g);
        option.selected = g === this.groups[0];
        return option;
      }));
    const all = h('input', { type: 'checkbox', id: 'fields-all', change: (e) => { this.everything = (e.target as HTMLInputElement).checked; this.draw(); } });
    all.checked = this.everything;
    const title = this.search ? 'Fields found' : GROUP_NAMES[this.groups[0] ?? ''] ?? 'Fields';
    const heading = h('h2', { id: 'fields-title', tabindex: -1 }, title);
    replace(this.element,
      h('div', { class: 'fields-head' }, heading,
        h('button', { type: 'button', class: 'quiet-button', 'aria-label': 'close the fields', click: () => this.close() }, 'Close')),
      h('div', { class: 'fields-tools' }, select, search,
        h('label', { for: 'fields-all' }, all, ' with those of the library')),
      fields.length === 0 ? h('p', { class: 'quiet' }, 'There is no such field.') : null,
      ...names.map((g) => h('div', { class: 'field-group' },
        names.length > 1 ? h('h3', {}, GROUP_NAMES[g] ?? g) : null,
        ...fields.filter((f) => groupOf(f.path) === g).map((f) => this.row(f)))));
    if (searching) {
      search.focus();
      search.setSelectionRange(this.search.length, this.search.length);
    }
  }

  private row(field: FieldInfo): HTMLElement {
    const id = `field-${field.path.replace('.', '-')}`;
    const change = (e: Event): void => this.store.edit(field.path, (e.target as HTMLInputElement).value);
    let input: HTMLInputElement | HTMLSelectElement;
    if (field.type === 'choice') {
      input = h('select', { id, change, 'aria-describedby': `${id}-about` },
        ...field.choices.map((c) => h('option', { value: c.word, title: c.help }, c.word)));
    } else {
      input = h('input', { id, type: 'text', input: change, autocomplete: 'off', spellcheck: 'false', 'aria-describedby': `${id}-about` });
    }
    const row = h('div', { class: 'field', 'data-path': field.path },
      h('div', { class: 'field-line' },
        h('label', { for: id }, key(field.path), field.unit && field.unit !== '1' && field.type === 'quantity' ? h('span', { class: 'unit' }, ` ${field.unit.replace(/^u(?=[mF])/, 'µ')}`) : null),
        input),
      h('p', { class: 'field-message', role: 'alert', hidden: true }),
      h('p', { class: 'field-about', id: `${id}-about` }, h('span', { class: 'origin' }), ' ', h('span', { class: 'help' }, `${field.help}.`)),
      h('details', { class: 'field-more' }, h('summary', {}, 'range, source, what must be remade'), h('dl', {})));
    this.rows.set(field.path, { row, input });
    return row;
  }

  private refresh(field: FieldInfo): void {
    const entry = this.rows.get(field.path);
    if (!entry) {
      return;
    }
    const { row, input } = entry;
    const value = this.store.value(field.path);
    const tried = this.store.edits[field.path];
    const text = tried ?? value?.text ?? '';
    if (document.activeElement !== input && input.value !== text) {
      if (input instanceof HTMLSelectElement && ![...input.options].some((o) => o.value === text)) {
        input.prepend(h('option', { value: text }, text || '(not set)'));
      }
      input.value = text;
    }
    if (input instanceof HTMLInputElement) {
      input.placeholder = field.must ? 'must be given' : field.fallback ?? 'not set';
    }
    row.classList.toggle('tried', tried !== undefined);
    const origin = tried !== undefined ? 'set' : value?.origin ?? 'unset';
    const chip = row.querySelector('.origin');
    if (chip) {
      chip.textContent = origin === 'set' ? 'tried' : origin;
      chip.setAttribute('title', ORIGIN_HELP[origin] ?? '');
    }
    this.message(row, input, this.store.messages.find((m) => m.field === field.path));
    this.about(row, field);
  }

  private message(row: HTMLElement, input: HTMLElement, message: Message | undefined): void {
    const place = row.querySelector<HTMLElement>('.field-message');
    if (!place) {
      return;
    }
    const text = message ? `${message.text}${message.hint ? ` – ${message.hint}` : ''}` : '';
    place.hidden = !message;
    if (place.textContent !== text) {
      place.textContent = text;
    }
    place.classList.toggle('is-warning', message?.severity === 'warning');
    if (message?.severity === 'error') {
      input.setAttribute('aria-invalid', 'true');
    } else {
      input.removeAttribute('aria-invalid');
    }
  }

  private about(row: HTMLElement, field: FieldInfo): void {
    const list = row.querySelector('dl');
    if (!list || list.childElementCount > 0) {
      return;
    }
    const add = (term: string, text: string): void => {
      if (text) {
        list.append(h('dt', {}, term), h('dd', {}, text));
      }
    };
    const ranged = field.type === 'quantity' || field.type === 'number' || field.type === 'count';
    const unit = field.unit === '1' ? '' : ` ${field.unit}`;
    add('range', ranged ? `${field.least} … ${field.most}${unit}` : field.choices.map((c) => `${c.word}: ${c.help}`).join('; '));
    add('default', field.must ? 'must be given' : field.fallback ?? 'not set');
    add('tolerance', field.tolerance);
    add('remake', field.part || 'nothing: a fact, not a part');
    add('belongs to', field.when);
    add('source', field.source);
    const line = this.store.value(field.path)?.line ?? 0;
    add('in the file', line > 0 ? `line ${line}` : 'not in the file');
    add('path', field.path);
  }
}
