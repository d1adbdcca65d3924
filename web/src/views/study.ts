// study.ts: what the studies share: a form, a run that can be stopped, what is known while it grows.
import { redrawCharts } from '../chart';
import { h, replace } from '../dom';
import { Cancelled, SourceError, type StudyRun } from '../source';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { listAt, textAt, type Pane } from './view';
import { words } from '../format';

export type Ask = Record<string, unknown>;

/** one thing that the form asks for */
export interface Question {
  name: string;
  label: string;
  kind: 'text' | 'number' | 'check' | 'select';
  value: string;
  /** of a select: value and words */
  options?: [string, string][];
  /** texts offered while typing */
  offers?: string[];
  hint?: string;
  least?: number;
  most?: number;
  /** two of them stand beside each other on a phone */
  short?: boolean;
  /** stands under "more" */
  more?: boolean;
  /** only the picture changes with it: no new run */
  look?: boolean;
  /** its other answers may change with it */
  change?: (value: string, set: (name: string, value: string) => void) => void;
}

export interface Study {
  id: string;
  title: string;
  about: string;
  /** how much of the assessment is computed unless it is asked otherwise */
  level?: Record<string, string>;
  questions(store: Store): Question[];
  /** the options as the server takes them */
  ask(answers: Record<string, string>, store: Store): Ask;
  /** the same for a person at a command line */
  command(answers: Record<string, string>, store: Store): string;
  draw(store: Store, document: ViewDocument, answers: Record<string, string>): Node[];
}

const LEVEL: Question[] = [
  { name: 'azimuths', label: 'touches around the circle', kind: 'number', value: '8', least: 3, most: 360, more: true },
  { name: 'timed', label: 'touches in time as well (slow)', kind: 'check', value: '', more: true },
  { name: 'map', label: 'all directions as well (slow)', kind: 'check', value: '', more: true },
  { name: 'all', label: 'every figure, not only those of requirements (slower)', kind: 'check', value: '', more: true },
];

function levelOf(answers: Record<string, string>): Ask {
  return {
    ...(Number(answers['azimuths']) === 8 ? {} : { azimuths: Number(answers['azimuths']) }),
    ...(answers['timed'] ? { timed: true } : {}),
    ...(answers['map'] ? { map: true } : {}),
    ...(answers['all'] ? { all: true } : {}),
  };
}

function levelWords(answers: Record<string, string>): string {
  return `${Number(answers['azimuths']) === 8 ? '' : ` --azimuths ${answers['azimuths']}`}${answers['timed'] ? ' --timed' : ''}${answers['map'] ? ' --map' : ''}${answers['all'] ? ' --all' : ''}`;
}

/** a word of a command line as a shell takes it */
export function quoted(text: string): string {
  return /^[\w./:=,+-]+$/.test(text) ? text : `'${text.replace(/'/g, "'\\''")}'`;
}

/** what a person reads of a duration, in seconds */
function remaining(seconds: number): string {
  return seconds < 90 ? `about ${Math.max(1, Math.round(seconds))} s left` : `about ${Math.round(seconds / 60)} min left`;
}

export class StudyPane implements Pane {
  readonly element: HTMLElement;
  readonly view: { id: string; title: string; documents: string[] };
  private readonly bar = h('progress', { max: 1, value: 0, 'aria-label': 'progress of the study' });
  private readonly state = h('p', { class: 'study-state', role: 'status' });
  private readonly problem = h('p', { class: 'stale', role: 'alert', hidden: true });
  private readonly result = h('div', { class: 'study-result' });
  private readonly form = h('form', { class: 'study-form no-print', novalidate: true });
  private readonly go = h('button', { type: 'submit', class: 'go' }, 'Run');
  private readonly halt = h('button', { type: 'button', hidden: true }, 'Stop');
  private readonly inputs = new Map<string, HTMLInputElement | HTMLSelectElement>();
  private asks: Question[] = [];
  private run: StudyRun | null = null;
  private began = 0;
  private document: ViewDocument | null = null;
  /** what the document belongs to, and how it was asked for */
  private key = '';
  private answers: Record<string, string> = {};
  private ended: 'no' | 'whole' | 'stopped' = 'no';
  private shown = '';
  private built = '';

  constructor(private readonly study: Study, private readonly store: Store) {
    this.view = { id: study.id, title: study.title, documents: [study.id] };
    this.element = h('section', { class: `view view-study view-${study.id}`, 'aria-labelledby': `view-${study.id}-title`, 'data-view': study.id },
      h('h2', { id: `view-${study.id}-title` }, study.title), h('p', { class: 'quiet study-about no-print' }, study.about));
    if (store.source.report) {
      this.element.append(this.result);
      return;
    }
    this.element.append(this.form, this.problem, this.result);
    this.form.addEventListener('submit', (e) => { e.preventDefault(); void this.start(); });
    this.halt.addEventListener('click', () => { this.run?.stop(); this.state.textContent = 'Stopping…'; });
  }

  // ---- the form ---------------------------------------------------------------------------------

  private build(): void {
    this.asks = [...this.study.questions(this.store), ...LEVEL.map((q) => ({ ...q, value: this.study.level?.[q.name] ?? q.value }))];
    /* what the form offers may change with the design: what was typed stays */
    const offers = JSON.stringify(this.asks);
    if (offers === this.built) {
      return;
    }
    this.built = offers;
    const kept = this.read();
    const active = document.activeElement?.getAttribute('name');
    this.inputs.clear();
    const plain = this.asks.filter((q) => !q.more).map((q) => this.question(q));
    const more = this.asks.filter((q) => q.more).map((q) => this.question(q));
    const open = this.form.querySelector('details')?.open ?? false;
    const details = h('details', { class: 'study-more' }, h('summary', {}, 'more options'), h('div', { class: 'study-fields' }, ...more));
    details.open = open;
    replace(this.form, plain.length ? h('div', { class: 'study-fields' }, ...plain) : null, details, h('div', { class: 'study-go' }, this.go, this.halt, this.bar, this.state));
    for (const [name, value] of Object.entries(kept)) {
      this.set(name, value);
    }
    if (active) {
      this.inputs.get(active)?.focus();
    }
    this.bar.hidden = this.run === null;
  }

  private question(q: Question): HTMLElement {
    const id = `${this.study.id}-${q.name}`;
    const changed = (): void => {
      q.change?.(this.valueOf(q.name), (name, value) => this.set(name, value));
      if (q.look) {
        this.shown = '';
        this.show();
      }
    };
    if (q.kind === 'select') {
      const select = h('select', { id, name: q.name, change: changed }, ...(q.options ?? []).map(([value, text]) => h('option', { value }, text)));
      select.value = q.value;
      this.inputs.set(q.name, select);
      return h('div', { class: 'study-field' }, h('label', { for: id }, q.label), select);
    }
    if (q.kind === 'check') {
      const input = h('input', { id, name: q.name, type: 'checkbox', change: changed });
      input.checked = q.value !== '';
      this.inputs.set(q.name, input);
      return h('div', { class: 'study-field check' }, input, h('label', { for: id }, q.label));
    }
    const list = q.offers ? `${id}-offers` : null;
    const input = h('input', { id, name: q.name, type: q.kind, value: q.value, autocomplete: 'off', spellcheck: 'false', list, change: changed,
      min: q.least ?? null, max: q.most ?? null, 'aria-describedby': q.hint ? `${id}-hint` : null });
    this.inputs.set(q.name, input);
    return h('div', { class: q.short ? 'study-field short' : 'study-field' }, h('label', { for: id }, q.label), input,
      q.hint ? h('span', { class: 'quiet small-text', id: `${id}-hint` }, q.hint) : null,
      list ? h('datalist', { id: list }, ...(q.offers ?? []).map((o) => h('option', { value: o }))) : null);
  }

  private valueOf(name: string): string {
    const input = this.inputs.get(name);
    return input instanceof HTMLInputElement && input.type === 'checkbox' ? (input.checked ? 'yes' : '') : input?.value.trim() ?? '';
  }

  private set(name: string, value: string): void {
    const input = this.inputs.get(name);
    if (input instanceof HTMLInputElement && input.type === 'checkbox') {
      input.checked = value !== '';
    } else if (input instanceof HTMLSelectElement) {
      input.value = [...input.options].some((o) => o.value === value) ? value : input.value;
    } else if (input) {
      input.value = value;
    }
  }

  private read(): Record<string, string> {
    return Object.fromEntries([...this.inputs.keys()].map((name) => [name, this.valueOf(name)]));
  }

  // ---- running ----------------------------------------------------------------------------------

  private async start(): Promise<void> {
    if (this.run) {
      return;
    }
    const answers = this.read();
    const ask = { ...this.study.ask(answers, this.store), ...levelOf(answers) };
    const run = this.store.study(this.study.id, ask, {
      progress: (done, what, waits) => this.progress(done, what, waits),
      part: (document) => this.take(document, 'no'),
    });
    if (!run) {
      return;
    }
    this.run = run;
    this.began = 0;
    this.key = this.store.key;
    this.answers = answers;
    this.document = null;
    this.ended = 'no';
    this.problem.hidden = true;
    this.shown = '';
    replace(this.result);
    this.element.classList.remove('old-figures');
    this.running(true);
    this.progress(0, 'starting', false);
    try {
      const end = await run.result;
      this.run = null;
      if (end.document) {
        this.take(end.document, end.stopped ? 'stopped' : 'whole');
      } else {
        this.ended = 'stopped';
      }
    } catch (error) {
      this.run = null;
      if (!(error instanceof Cancelled)) {
        this.fail(error);
      } else {
        this.ended = 'stopped';
      }
    }
    this.running(false);
    this.tell();
    this.show();
  }

  private running(on: boolean): void {
    this.element.setAttribute('aria-busy', String(on));
    this.go.hidden = on;
    this.halt.hidden = !on;
    this.bar.hidden = !on;
    this.bar.value = 0;
    if (!on && document.activeElement === document.body) {
      this.go.focus({ preventScroll: true });
    }
  }

  private progress(done: number, what: string, waits: boolean): void {
    if (!this.run) {
      return;
    }
    this.bar.value = done;
    this.began = this.began || performance.now() - (done > 0 ? 1 : 0);
    const spent = (performance.now() - this.began) / 1000;
    const left = done > 0.001 && spent > 1 ? `, ${remaining((spent * (1 - done)) / done)}` : '';
    this.state.textContent = waits ? 'Waiting for another study to end…' : `Working: ${what}${left}`;
  }

  private take(document: ViewDocument, ended: 'no' | 'whole' | 'stopped'): void {
    this.document = document;
    this.ended = ended;
    this.shown = '';
    this.show();
  }

  private fail(error: unknown): void {
    const failure = error instanceof SourceError ? error.failure.error : null;
    const field = failure?.field.startsWith('study.') ? this.inputs.get(failure.field.slice(6)) : undefined;
    this.problem.hidden = false;
    this.problem.textContent = failure ? `${failure.text}${failure.hint ? ` – ${failure.hint}` : ''}` : error instanceof Error ? error.message : String(error);
    for (const input of this.inputs.values()) {
      input.removeAttribute('aria-invalid');
    }
    field?.setAttribute('aria-invalid', 'true');
  }

  // ---- what it shows ----------------------------------------------------------------------------

  /** the asking of a run whose figures stand here and still hold */
  get asked(): Ask | null {
    return this.document && this.ended === 'whole' && this.key === this.store.key
      ? { ...this.study.ask(this.answers, this.store), ...levelOf(this.answers) } : null;
  }

  get current(): boolean {
    return this.document !== null && (this.store.source.report || this.key === this.store.key);
  }

  async draw(): Promise<void> {
    if (this.store.source.report) {
      await this.drawReport();
      return;
    }
    if (this.store.evaluation) {
      this.build();
      this.tell();
      this.show();
    }
  }

  private async drawReport(): Promise<void> {
    try {
      this.document ??= await this.store.view(this.study.id);
      this.ended = 'whole';
      this.answers = Object.fromEntries(this.study.questions(this.store).map((q) => [q.name, q.value]));
      this.show();
    } catch (error) {
      replace(this.result, h('p', { class: 'stale' }, error instanceof Error ? error.message : String(error)));
    }
  }

  private tell(): void {
    if (this.run) {
      return;
    }
    const stale = this.document && this.key !== this.store.key;
    this.go.textContent = this.document ? 'Run again' : 'Run';
    this.state.classList.toggle('is-stale', Boolean(stale));
    this.state.textContent = stale ? 'These figures are of the values before the last change.'
      : this.ended === 'stopped' ? (this.document ? 'Stopped: this is what was done until then.' : 'Stopped before there was anything to show.') : '';
  }

  private show(): void {
    const { store } = this;
    const look = JSON.stringify(this.asks.filter((q) => q.look).map((q) => this.valueOf(q.name)));
    const id = JSON.stringify([store.system, look, this.ended, this.key === store.key]);
    if (!this.document || id === this.shown) {
      return;
    }
    this.shown = id;
    const open = new Set([...this.result.querySelectorAll('details[open] > summary')].map((s) => s.textContent));
    const answers = { ...this.answers, ...Object.fromEntries(this.asks.filter((q) => q.look).map((q) => [q.name, this.valueOf(q.name)])) };
    this.element.classList.toggle('old-figures', !this.current);
    replace(this.result, ...this.study.draw(store, this.document, answers), ...this.foot());
    for (const details of this.result.querySelectorAll('details')) {
      details.open = details.open || open.has(details.querySelector('summary')?.textContent ?? '');
    }
    redrawCharts();
  }

  /** what the figures rest on, and how to get them elsewhere */
  private foot(): Node[] {
    const document = this.document ?? {};
    const left = listAt(document, 'left_out');
    const level = textAt(document, 'level');
    const report = this.store.source.report;
    return [
      left.length ? h('p', { class: 'stale' }, 'Not computed at this level: ', left.map((l) => `${words(textAt(l, 'measure'))}${textAt(l, 'needs') === 'timed' ? ' (needs touches in time)' : textAt(l, 'needs') === 'map' ? ' (needs all directions)' : ''}`).join(', '), '.') : null,
      level ? h('p', { class: 'quiet' }, `Level: ${level}.`) : null,
      report || this.ended !== 'whole' ? null : h('p', { class: 'quiet study-command no-print' }, 'The same at a command line: ',
        h('code', {}, `${this.study.command(this.answers, this.store)}${levelWords(this.answers)}${this.sets()}`)),
    ].filter((n) => n !== null) as Node[];
  }

  private sets(): string {
    const edits = this.key === this.store.key && this.study.id !== 'compare' ? this.store.edits : {};
    return Object.entries(edits).map(([path, text]) => ` --set ${quoted(`${path}=${text}`)}`).join('');
  }
}
