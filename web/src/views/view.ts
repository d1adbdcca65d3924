// view.ts: what all views share: asking for their document, saying what is wrong, tables.
import { h, replace } from '../dom';
import { Cancelled, SourceError } from '../source';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { redrawCharts } from '../chart';

export interface View {
  id: string;
  title: string;
  /** documents of the server that it draws; none for those made of the check alone */
  documents: string[];
  draw(store: Store, documents: ViewDocument[]): Node[];
}

/** what the state of a document, or of a part of it, means: nothing where it has no sentence */
export function stateNote(part: unknown): HTMLElement[] {
  const of = (name: string): string => {
    const v = (part as Record<string, unknown> | undefined)?.[name];
    return typeof v === 'string' ? v : '';
  };
  const cause = of('why') ? ` Cause: ${of('why')}.` : '', cure = of('hint') ? ` Cure: ${of('hint')}.` : '';
  return of('sentence') ? [h('p', { class: 'stale' }, `${of('sentence')}${cause}${cure}`)] : [];
}

/** a view on the page: it draws itself when it is in sight */
export interface Pane {
  readonly view: { id: string; title: string; documents: string[] };
  readonly element: HTMLElement;
  /** its figures are those of the values as they stand */
  readonly current: boolean;
  draw(): Promise<void>;
}

export class ViewPane implements Pane {
  readonly element: HTMLElement;
  private serial = 0;
  private drawn = '';

  constructor(readonly view: View, private readonly store: Store) {
    this.element = h('section', { class: `view view-${view.id}`, 'aria-labelledby': `view-${view.id}-title`, 'data-view': view.id });
  }

  private key(): string {
    const { store } = this;
    return JSON.stringify([store.edits, store.design?.fingerprint, store.system, store.phase === 'settled']);
  }

  get current(): boolean {
    return this.drawn === this.key();
  }

  async draw(): Promise<void> {
    const { view, store } = this;
    const key = this.key();
    if (key === this.drawn || !store.evaluation || (store.phase !== 'settled' && this.drawn)) {
      return;
    }
    const mine = ++this.serial;
    const title = h('h2', { id: `view-${view.id}-title` }, view.title);
    if (!this.drawn) {
      replace(this.element, title, h('p', { class: 'quiet', role: 'status' }, 'Working…'));
    }
    const slow = setTimeout(() => this.element.classList.add('refining'), 300);
    try {
      const documents = await Promise.all(view.documents.map((name) => store.view(name)));
      if (mine === this.serial) {
        replace(this.element, title, ...documents.flatMap(stateNote), ...view.draw(store, documents));
        this.drawn = key;
        redrawCharts();
      }
    } catch (error) {
      if (error instanceof Cancelled) {
        this.drawn = '';
      } else if (mine === this.serial) {
        const text = error instanceof SourceError ? error.failure.error.text : error instanceof Error ? error.message : String(error);
        const hint = error instanceof SourceError ? error.failure.error.hint : '';
        replace(this.element, title, h('p', { class: 'stale', role: 'status' }, text, hint ? ` – ${hint}` : ''));
        this.drawn = '';
      }
    } finally {
      clearTimeout(slow);
      if (mine === this.serial) {
        this.element.classList.remove('refining');
      }
    }
  }
}

/** numbers under heads; the first column is the row's head */
export function table(caption: string, heads: string[], rows: (string | Node)[][]): HTMLElement {
  return h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': caption },
    h('table', {},
      h('caption', {}, caption),
      h('thead', {}, h('tr', {}, ...heads.map((t) => h('th', { scope: 'col' }, t)))),
      h('tbody', {}, ...rows.map((row) => h('tr', {}, ...row.map((c, i) => (i === 0 ? h('th', { scope: 'row' }, c) : h('td', {}, c))))))));
}

/** a list of names and figures beside a picture */
export function figures(rows: ([string, string] | null)[]): HTMLElement {
  const shown = rows.filter((r): r is [string, string] => r !== null && r[1] !== '');
  return h('dl', { class: 'figures' }, ...shown.map(([name, value]) => h('div', {}, h('dt', {}, name), h('dd', {}, value))));
}

export function numberAt(document: unknown, ...path: string[]): number | null {
  let at: unknown = document;
  for (const name of path) {
    at = typeof at === 'object' && at !== null ? (at as Record<string, unknown>)[name] : undefined;
  }
  if (typeof at === 'object' && at !== null && 'value' in at) {
    at = (at as { value: unknown }).value;
  }
  return typeof at === 'number' && Number.isFinite(at) ? at : null;
}

export function textAt(document: unknown, ...path: string[]): string {
  let at: unknown = document;
  for (const name of path) {
    at = typeof at === 'object' && at !== null ? (at as Record<string, unknown>)[name] : undefined;
  }
  return typeof at === 'string' ? at : typeof at === 'number' ? String(at) : '';
}

export function listAt(document: unknown, name: string): unknown[] {
  const at = typeof document === 'object' && document !== null ? (document as Record<string, unknown>)[name] : undefined;
  return Array.isArray(at) ? at : [];
}
