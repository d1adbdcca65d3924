// suspects.ts: what was read on the bench, typed beside the card, and the one thing that explains it.
import { h, path, replace } from '../dom';
import { between, show } from '../format';
import { Cancelled, SourceError, type StudyRun } from '../source';
import type { Store } from '../store';
import type { ViewDocument } from '../types';
import { listAt, numberAt, table, textAt } from './view';

/** suspects that stand beside each other under what tells them apart */
const BESIDE = 4;

function shown(value: unknown, unit: string, store: Store): string {
  if (typeof value === 'string') {
    return value;
  }
  const number = numberAt({ value }, 'value');
  return number === null ? '–' : show(number, unit, store.system).replace(' ', '\u00a0');
}

function readings(store: Store, document: ViewDocument): HTMLElement {
  return table('readings', ['check', 'read', 'expected', ''], listAt(document, 'readings').map((row) => {
    const of = row as Record<string, unknown>, unit = textAt(row, 'unit');
    const [low, high] = listAt(row, 'band').map(Number);
    const reads = textAt(row, 'reads');
    return [textAt(row, 'title'), shown(of['reading'], unit, store),
      low === undefined || high === undefined ? shown(of['expected'], unit, store) : between(show(low, unit, store.system), show(high, unit, store.system)),
      reads === 'as expected' ? reads : h('b', { class: 'reads-off' }, reads)];
  }));
}

function verdict(document: ViewDocument): string {
  const out = numberAt(document, 'out') ?? 0, fit = numberAt(document, 'explaining') ?? 0;
  return out === 0 ? 'Nothing to look for: every reading lies where a good unit may lie.'
    : fit > 0 ? 'One thing wrong that explains all of it, the likeliest first:'
    : listAt(document, 'suspects').length ? 'No single value explains all of it: two things may be wrong, a reading may be off, or the cause is in no formula (dirt, a crack, a loose joint). The nearest:'
    : 'Nothing in this design explains it: look for a wrong reading, dirt, a crack, a loose joint, a wrong instrument setting.';
}

function suspects(document: ViewDocument): unknown[] {
  const all = listAt(document, 'suspects'), fit = numberAt(document, 'explaining') ?? 0;
  return fit > 0 ? all.slice(0, fit) : all;
}

function oneSuspect(one: unknown): HTMLElement {
  const of = one as Record<string, unknown>, part = textAt(one, 'part');
  return h('li', { class: 'suspect' }, h('code', {}, ...path(textAt(one, 'field'))), ': ', h('b', {}, textAt(of['then'], 'shown')), ` in place of ${textAt(of['now'], 'shown')}${part ? ` (${part})` : ''}`,
    h('span', { class: 'quiet' }, `; leaves ${(numberAt(one, 'worst') ?? 0).toFixed(1)} deviations (${textAt(one, 'help')})`));
}

function tests(store: Store, document: ViewDocument): HTMLElement | null {
  const list = suspects(document).slice(0, BESIDE), rows = listAt(document, 'tests').slice(0, 5);
  return rows.length === 0 ? null : table('checks that separate them, the most useful first', ['check', ...list.map((_, i) => `if it is ${i + 1}`)],
    rows.map((test) => [textAt(test, 'title'), ...list.map((one) => {
      const all = (one as Record<string, unknown>)['shown'] as Record<string, unknown>;
      return shown(all[textAt(test, 'check')], textAt(test, 'unit'), store);
    })]));
}

/** The readings typed into the card, kept with the tab, and the search for what explains them. */
export class Suspects {
  readonly element = h('section', { class: 'suspects no-print', 'aria-labelledby': 'suspects-title' });
  private readonly go = h('button', { type: 'button', class: 'go', click: () => void this.start() }, 'Find what is wrong');
  private readonly halt = h('button', { type: 'button', hidden: true, click: () => this.run?.drop() }, 'Stop');
  private readonly bar = h('progress', { max: 1, value: 0, hidden: true, 'aria-label': 'progress of the search' });
  private readonly state = h('p', { class: 'study-state', role: 'status' });
  private readonly result = h('div', {});
  private readonly inputs = new Map<string, HTMLInputElement>();
  private texts: Record<string, string> = {};
  private run: StudyRun | null = null;
  private found = '';

  constructor(private readonly store: Store) {
    this.texts = this.kept();
    replace(this.element, h('h3', { id: 'suspects-title' }, 'What explains these readings?'),
      h('p', { class: 'quiet' }, 'Type what your instruments showed into the boxes of the card below, with the unit (612 mV; 4.1 ms ± 0.1; none if it does not trip). Readings that are as expected count as well: they clear suspects.'),
      h('div', { class: 'study-go' }, this.go, this.halt, this.bar, this.state), this.result);
    this.tell();
  }

  private name(): string {
    return `tripwright:readings:${this.store.design?.file ?? ''}`;
  }

  private kept(): Record<string, string> {
    try {
      return JSON.parse(sessionStorage.getItem(this.name()) ?? '{}') as Record<string, string>;
    } catch {
      return {};
    }
  }

  /** the box of one check */
  box(check: string, title: string): HTMLInputElement {
    const input = h('input', { type: 'text', name: check, value: this.texts[check] ?? '', autocomplete: 'off', spellcheck: 'false', 'aria-label': `read: ${title}`,
      input: () => this.take(check, input.value.trim()) });
    this.inputs.set(check, input);
    return input;
  }

  private take(check: string, text: string): void {
    const { [check]: _, ...rest } = this.texts;
    this.texts = text === '' ? rest : { ...rest, [check]: text };
    try {
      sessionStorage.setItem(this.name(), JSON.stringify(this.texts));
    } catch {
      /* a browser that keeps nothing still works */
    }
    this.inputs.get(check)?.removeAttribute('aria-invalid');
    this.tell();
  }

  private get asked(): string {
    return JSON.stringify([this.texts, this.store.key]);
  }

  private tell(): void {
    const running = this.run !== null;
    this.go.hidden = running;
    this.go.disabled = Object.keys(this.texts).length === 0;
    this.halt.hidden = this.bar.hidden = !running;
    if (!running) {
      this.state.textContent = this.found && this.found !== this.asked ? 'Of readings or values before the last change.' : '';
    }
  }

  private async start(): Promise<void> {
    const asked = this.asked;
    const run = this.store.study('suspect', { readings: this.texts }, {
      progress: (done, what, waits) => {
        this.bar.value = done;
        this.state.textContent = waits ? 'Waiting for another study to end…' : `Working: ${what}`;
      },
      part: () => undefined,
    });
    this.run = run;
    if (!run) {
      return;
    }
    this.bar.value = 0;
    this.tell();
    try {
      const { document } = await run.result;
      this.run = null;
      this.found = asked;
      if (document) {
        this.draw(document);
      }
    } catch (error) {
      this.run = null;
      if (!(error instanceof Cancelled)) {
        this.fail(error);
      }
    }
    this.tell();
  }

  private fail(error: unknown): void {
    const failure = error instanceof SourceError ? error.failure.error : null;
    const input = failure ? this.inputs.get(failure.field.replace(/^study\.readings\./, '')) : undefined;
    input?.setAttribute('aria-invalid', 'true');
    input?.focus();
    replace(this.result, h('p', { class: 'stale', role: 'alert' }, failure ? `${failure.text}${failure.hint ? ` – ${failure.hint}` : ''}` : error instanceof Error ? error.message : String(error)));
  }

  private draw(document: ViewDocument): void {
    const list = suspects(document);
    replace(this.result, h('p', { class: 'suspect-verdict' }, h('b', {}, verdict(document))),
      list.length ? h('ol', { class: 'suspect-list' }, ...list.map(oneSuspect)) : null, tests(this.store, document), readings(this.store, document),
      h('p', { class: 'quiet' }, 'A suspect is a place to look, not a proof. One wrong value at a time, and only what is in the formulas.'));
  }
}
