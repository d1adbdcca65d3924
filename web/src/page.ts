// page.ts: the page put together: bar, drawing and views, ledger, fields; or a report from top to
// bottom when the file carries its own data.
import { redrawCharts } from './chart';
import { h, replace } from './dom';
import { Fields } from './fields';
import { show } from './format';
import { Ledger } from './ledger';
import { reportHead, reportInputs } from './report';
import { Section } from './sheet';
import { findSource } from './source';
import { Store } from './store';
import { bench } from './views/bench';
import { crash } from './views/crash';
import { compare } from './views/compare';
import { directions } from './views/directions';
import { disc } from './views/disc';
import { falsetrips } from './views/falsetrips';
import { drivers } from './views/drivers';
import { feeds } from './views/feeds';
import { remedy } from './views/remedy';
import { signal } from './views/signal';
import { spread } from './views/spread';
import { StudyPane, type Study } from './views/study';
import { touch } from './views/touch';
import { vary } from './views/vary';
import { ViewPane, type Pane, type View } from './views/view';

const VIEWS: View[] = [directions, touch, feeds, signal, disc, falsetrips, crash, bench];
const STUDIES: Study[] = [vary, spread, drivers, remedy, compare];
const THEMES = ['auto', 'light', 'dark'] as const;
type Theme = (typeof THEMES)[number];

function keep(name: string, value?: string): string | null {
  try {
    if (value !== undefined) {
      localStorage.setItem(name, value);
    }
    return localStorage.getItem(name);
  } catch {
    return null;
  }
}

function setTheme(theme: Theme): void {
  document.documentElement.dataset['theme'] = theme;
  keep('tripwright:theme', theme);
  redrawCharts();
}

class Page {
  private readonly ledger: Ledger;
  private readonly fields: Fields;
  private readonly section: Section;
  private readonly panes: Pane[];
  private readonly tabs: HTMLButtonElement[] = [];
  private readonly bar = h('header', { class: 'bar' });
  private readonly status = h('p', { class: 'status', role: 'status' });
  private readonly banner = h('div', { class: 'banner' });
  private readonly undo = h('button', { type: 'button', click: () => this.store.undo() }, 'Undo');
  private readonly redo = h('button', { type: 'button', click: () => this.store.redo() }, 'Redo');
  private readonly drop = h('button', { type: 'button', click: () => this.store.drop() }, 'Drop');
  private readonly save = h('button', { type: 'button', class: 'go', click: () => void this.store.save() }, 'Save');
  private readonly title = h('h1', {});
  private readonly file = h('span', { class: 'quiet file' });
  private main = h('main', { class: 'main' });
  private readonly paperNote = h('p', { class: 'paper-note', hidden: true });
  private current = 'section';
  private bannerShows: unknown = null;
  private opener: Element | null = null;

  constructor(private readonly store: Store, private readonly root: HTMLElement) {
    this.fields = new Fields(store, () => this.fieldsClosed());
    this.ledger = new Ledger(store, (field) => this.openFields(field));
    this.section = new Section(store, (group) => this.openFields(group));
    this.panes = [...VIEWS.map((view) => new ViewPane(view, store)), ...STUDIES.map((study) => new StudyPane(study, store))];
  }

  // ---- building ---------------------------------------------------------------------------------

  start(): void {
    if (this.store.source.report) {
      this.buildReport();
    } else {
      this.build();
    }
    this.store.listen(() => this.draw());
    this.section.measure();
    void this.store.start();
    if (!this.store.source.report) {
      /* paper has a width of its own, for which nothing is computed anew */
      new ResizeObserver(() => this.root.classList.contains('printing') || this.section.measure()).observe(this.section.element);
    }
    window.addEventListener('keydown', (e) => this.shortcut(e));
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => redrawCharts());
    window.addEventListener('beforeprint', () => this.print(true));
    window.addEventListener('afterprint', () => this.print(false));
  }

  private build(): void {
    const systems = h('select', { 'aria-label': 'units', change: (e) => this.store.setSystem((e.target as HTMLSelectElement).value === 'inch' ? 'inch' : 'metric') },
      h('option', { value: 'metric' }, 'mm'), h('option', { value: 'inch' }, 'inch'));
    const themes = h('select', { 'aria-label': 'light or dark', change: (e) => setTheme((e.target as HTMLSelectElement).value as Theme) },
      h('option', { value: 'auto' }, 'as the system'), h('option', { value: 'light' }, 'light'), h('option', { value: 'dark' }, 'dark'));
    themes.value = document.documentElement.dataset['theme'] ?? 'auto';
    const report = h('button', { type: 'button', click: () => void this.report() }, 'Report');
    const all = h('button', { type: 'button', click: () => this.openFields('stylus') }, 'Fields');
    replace(this.bar, h('div', { class: 'names' }, this.title, this.file), this.status,
      h('div', { class: 'tools' }, this.undo, this.redo, this.drop, this.save, all, report, systems, themes));
    const list = h('div', { class: 'tabs', role: 'tablist', 'aria-label': 'views', keydown: (e) => this.walkTabs(e as KeyboardEvent) });
    for (const [id, title] of [['section', 'Section'], ...this.panes.map((p) => [p.view.id, p.view.title])] as [string, string][]) {
      const tab = h('button', { type: 'button', role: 'tab', id: `tab-${id}`, 'aria-controls': `panel-${id}`, click: () => this.show(id) }, title);
      this.tabs.push(tab);
      list.append(tab);
    }
    const panel = (id: string, inner: HTMLElement): HTMLElement =>
      h('div', { class: 'panel', role: 'tabpanel', id: `panel-${id}`, 'aria-labelledby': `tab-${id}`, tabindex: -1 }, inner);
    const panels = h('div', { class: 'panels' }, panel('section', this.section.element), ...this.panes.map((p) => panel(p.view.id, p.element)));
    this.main.append(h('div', { class: 'sheet-column' }, list, panels, this.paperNote), this.ledger.element, this.fields.element);
    replace(this.root, h('a', { class: 'skip', href: '#ledger-title', click: (e) => { e.preventDefault(); this.ledger.element.querySelector<HTMLElement>('summary')?.focus(); } }, 'to the requirements'),
      this.bar, this.banner, this.main);
    this.show('section');
  }

  private buildReport(): void {
    const top = h('div', {});
    const inputs = h('div', {});
    this.root.classList.add('report');
    const nav = h('nav', { class: 'report-nav no-print', 'aria-label': 'parts of the report' },
      ...[['section', 'Section'], ...this.panes.map((p) => [p.view.id, p.view.title]), ['inputs', 'Inputs']].map(([id, title]) => h('a', { href: `#part-${id}` }, title ?? '')));
    this.store.listen(() => {
      for (const { view } of this.panes) {
        for (const part of [nav.querySelector(`[href="#part-${view.id}"]`), this.root.querySelector(`#part-${view.id}`)]) {
          part?.toggleAttribute('hidden', !this.offered(view));
        }
      }
    });
    replace(this.root, top, nav, h('main', { class: 'report-main' },
      h('section', { class: 'view', id: 'part-section', 'aria-label': 'Section' }, this.section.element), this.ledger.element,
      ...this.panes.map((p) => h('div', { id: `part-${p.view.id}` }, p.element)), h('div', { id: 'part-inputs' }, inputs)));
    let done = false;
    this.store.listen(() => {
      if (!done && this.store.evaluation && this.store.design) {
        done = true;
        document.title = `${this.store.design.name} – tripwright report`;
        replace(top, reportHead(this.store));
        replace(inputs, reportInputs(this.store));
      }
    });
  }

  // ---- drawing ----------------------------------------------------------------------------------

  private draw(): void {
    const { store } = this;
    this.section.draw();
    this.ledger.draw();
    this.fields.draw();
    if (store.source.report) {
      for (const pane of this.panes.filter((p) => this.offered(p.view))) {
        void pane.draw();
      }
      return;
    }
    const design = store.design;
    for (const { view } of this.panes) {
      const tab = this.tabs.find((t) => t.id === `tab-${view.id}`);
      if (tab) {
        tab.hidden = !this.offered(view);
      }
    }
    this.title.textContent = design?.name ?? 'tripwright';
    this.file.textContent = design ? `revision ${design.revision} · ${design.file}` : '';
    document.title = `${store.changed ? '* ' : ''}${design?.name ?? ''} – tripwright`;
    this.undo.disabled = !store.canUndo;
    this.redo.disabled = !store.canRedo;
    this.drop.disabled = store.changed === 0;
    this.save.disabled = store.changed === 0 || store.phase === 'failed';
    this.save.textContent = store.changed ? `Save ${store.changed}` : 'Save';
    this.drawStatus();
    this.drawBanner();
    void this.panes.find((p) => p.view.id === this.current)?.draw();
  }

  /** the program behind the page knows all that the view needs */
  private offered(view: { documents: string[] }): boolean {
    const known = this.store.design?.views ?? [];
    return view.documents.every((name) => known.includes(name));
  }

  private drawStatus(): void {
    const { store } = this;
    const changes = store.changed === 1 ? '1 change tried, not saved' : store.changed ? `${store.changed} changes tried, not saved` : '';
    const phase = { loading: 'reading…', refining: 'refining: more directions, touches in time', settled: '', failed: 'a value cannot be read', offline: 'no answer from the server' }[store.phase];
    this.status.textContent = [changes, phase].filter(Boolean).join(' · ') || 'as saved';
    this.status.className = `status phase-${store.phase}`;
  }

  private drawBanner(): void {
    const { store } = this;
    const shows = store.conflict ?? (store.phase === 'offline' ? `offline${store.failure?.status ?? ''}` : store.phase === 'failed' ? store.failure : store.notice);
    if (shows === this.bannerShows) {
      return;
    }
    this.bannerShows = shows;
    if (store.conflict) {
      replace(this.banner, this.conflictDialog());
    } else if (store.phase === 'offline') {
      replace(this.banner, h('div', { class: 'banner-text', role: 'alert' }, store.failure?.status === 401
        ? 'The server was started again and has a new address: open the one it printed. What you tried here is kept and will be offered there.'
        : 'The server does not answer. What you tried is kept in this tab; start it again with tripwright serve.'));
    } else if (store.phase === 'failed' && store.failure) {
      const { field, text, hint } = store.failure.error;
      replace(this.banner, h('div', { class: 'banner-text', role: 'alert' }, field ? h('button', { type: 'button', class: 'link', click: () => this.openFields(field) }, field) : null,
        field ? ': ' : '', text, hint ? ` – ${hint}` : ''));
    } else if (store.notice) {
      replace(this.banner, h('div', { class: 'banner-text', role: 'status' }, store.notice, ' ',
        h('button', { type: 'button', class: 'quiet-button', click: () => { store.notice = ''; this.draw(); } }, 'OK')));
    } else {
      replace(this.banner);
    }
  }

  private conflictDialog(): HTMLElement {
    const { store } = this;
    const { disk, on } = store.conflict ?? { disk: store.design, on: 'change' };
    const rows = Object.entries(store.edits).map(([path, mine]) =>
      h('tr', {}, h('th', { scope: 'row' }, path), h('td', {}, disk?.values[path]?.text ?? 'not in the file'), h('td', {}, mine)));
    return h('div', { class: 'banner-text conflict', role: 'alertdialog', 'aria-labelledby': 'conflict-title' },
      h('h2', { id: 'conflict-title' }, on === 'save' ? 'Not saved: the file was changed elsewhere' : 'The file was changed elsewhere'),
      h('p', {}, 'Both versions are kept until you choose.'),
      h('div', { class: 'table-holder', tabindex: 0, role: 'region', 'aria-label': 'both versions' }, h('table', {}, h('thead', {}, h('tr', {}, ...['field', 'on disk now', 'tried here'].map((t) => h('th', { scope: 'col' }, t)))), h('tbody', {}, ...rows))),
      h('div', { class: 'tools' }, h('button', { type: 'button', click: () => store.takeDisk() }, 'Take the file as it is on disk'),
        h('button', { type: 'button', class: 'go', click: () => store.keepMine() }, 'Keep my changes on top of it')));
  }

  // ---- moving about -----------------------------------------------------------------------------

  private show(id: string): void {
    this.current = id;
    for (const tab of this.tabs) {
      const mine = tab.id === `tab-${id}`;
      tab.setAttribute('aria-selected', String(mine));
      tab.tabIndex = mine ? 0 : -1;
    }
    for (const panel of this.root.querySelectorAll<HTMLElement>('.panel')) {
      panel.hidden = panel.id !== `panel-${id}`;
    }
    this.root.dataset['view'] = id;
    if (id === 'section') {
      this.section.measure();
    }
    void this.panes.find((p) => p.view.id === id)?.draw();
  }

  private walkTabs(event: KeyboardEvent): void {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const at = this.tabs.findIndex((t) => t === document.activeElement);
    if (step !== undefined && at >= 0) {
      event.preventDefault();
      const next = this.tabs[(at + step + this.tabs.length) % this.tabs.length];
      next?.focus();
      next?.click();
    }
  }

  private openFields(target: string): void {
    this.opener = document.activeElement;
    this.fields.open(target);
    this.root.classList.add('with-fields');
  }

  private fieldsClosed(): void {
    this.root.classList.remove('with-fields');
    if (this.opener instanceof HTMLElement || this.opener instanceof SVGElement) {
      this.opener.focus();
    }
  }

  private shortcut(event: KeyboardEvent): void {
    const control = event.ctrlKey || event.metaKey;
    if (event.key === 'Escape' && this.fields.isOpen) {
      this.fields.close();
    } else if (control && event.key.toLowerCase() === 's' && !this.store.source.report) {
      event.preventDefault();
      void this.store.save();
    } else if (control && event.key.toLowerCase() === 'z' && !this.store.source.report) {
      event.preventDefault();
      event.shiftKey ? this.store.redo() : this.store.undo();
    }
  }

  /** On paper the views that were opened and still hold follow each other; which were not is said:
   *  printing waits for nothing. */
  private print(on: boolean): void {
    const shown = (id: string): boolean => id === 'section' || (this.panes.find((p) => p.view.id === id)?.current ?? false);
    this.root.classList.toggle('printing', on);
    for (const panel of this.root.querySelectorAll<HTMLElement>('.panel')) {
      const id = panel.id.slice(6);
      panel.hidden = on ? !shown(id) : id !== this.current;
    }
    const missing = this.panes.filter((p) => this.offered(p.view) && !p.current).map((p) => p.view.title);
    this.paperNote.hidden = !on || missing.length === 0;
    this.paperNote.textContent = `Not printed here, since not opened or not run for these values: ${missing.join(', ')}. The report (button Report) holds all views, and the studies that were run.`;
    redrawCharts();
  }

  private async report(): Promise<void> {
    this.store.notice = 'Making the report…';
    this.draw();
    try {
      /* the studies whose figures stand here; those of one design */
      const studies = this.panes.flatMap((p) => (p instanceof StudyPane && p.view.id !== 'compare' && p.asked ? [[p.view.id, p.asked] as const] : []));
      const reply = await this.store.source.view('report', this.store.edits, { sheet: this.store.sheet, ...(studies.length ? { with: Object.fromEntries(studies) } : {}) });
      const link = h('a', { href: URL.createObjectURL(new Blob([String(reply['html'])], { type: 'text/html' })), download: String(reply['name'] ?? 'report.html') });
      link.click();
      this.store.notice = `The report was made (${show(String(reply['html']).length, 'B')}).`;
    } catch (error) {
      this.store.notice = error instanceof Error ? error.message : String(error);
    }
    this.draw();
  }
}

function begin(): void {
  const root = document.getElementById('page');
  if (!root) {
    return;
  }
  const theme = keep('tripwright:theme');
  setTheme(THEMES.find((t) => t === theme) ?? 'auto');
  const source = findSource();
  if (!source) {
    replace(root, h('main', { class: 'lost' }, h('h1', {}, 'tripwright'),
      h('p', {}, 'This address lacks the secret of the run: open the whole address that tripwright serve printed, with everything after the #.')));
    return;
  }
  new Page(new Store(source), root).start();
  window.addEventListener('hashchange', () => location.reload());
}

begin();
