// store.ts: what the page knows: the design, the changes tried, the figures before and now.
import type { Message } from './types';
import type { DesignDocument, Edits, EvaluateDocument, Failure, FieldValue, ViewDocument } from './types';
import { Cancelled, SourceError, type SaveReply, type Shade, type Sheet, type Source, type StudyRun, type StudyWatch } from './source';
import type { System } from './format';

export type Phase = 'loading' | 'refining' | 'settled' | 'failed' | 'offline';

interface Step { edits: Edits; path: string; time: number }

export interface Conflict { disk: DesignDocument; on: 'change' | 'save' }

/** typing in one field within this time is one step to undo */
const ONE_STEP_MS = 1500;

/** the first figures are on the screen, so that the settled ones do not take their processor; a page
 *  that nobody looks at is not drawn and does not wait for it */
function painted(): Promise<void> {
  return new Promise((done) => {
    requestAnimationFrame(() => setTimeout(done, 0));
    setTimeout(done, 100);
  });
}

export class Store {
  design: DesignDocument | null = null;
  evaluation: EvaluateDocument | null = null;
  /** the settled figures before the last change, for the ghosts in the ledger */
  before: EvaluateDocument | null = null;
  edits: Edits = {};
  phase: Phase = 'loading';
  failure: Failure | null = null;
  messages: Message[] = [];
  conflict: Conflict | null = null;
  notice = '';
  system: System = 'metric';
  sheet: Sheet = { width: 0, height: 0, system: 'metric', shade: 'none' };

  private past: Step[] = [];
  private future: Step[] = [];
  private listeners = new Set<() => void>();
  private settledFor = '';
  private lastSettled: EvaluateDocument | null = null;
  private busy = false;
  private wanted = false;
  private views = new Map<string, Promise<ViewDocument>>();
  private studies = new Set<StudyRun>();
  private studiedFor = '';
  private saving = false;

  constructor(readonly source: Source) {}

  listen(listener: () => void): void {
    this.listeners.add(listener);
  }

  private tell(): void {
    for (const listener of this.listeners) {
      listener();
    }
  }

  // ---- start and the file on disk ---------------------------------------------------------------

  async start(): Promise<void> {
    await this.load();
    void this.watch();
  }

  private async load(): Promise<void> {
    try {
      this.design = await this.source.design();
      this.failure = null;
      this.restore();
      this.evaluate();
    } catch (error) {
      this.fail(error);
    }
  }

  /** changes that were not saved when the page closed or the server went away */
  private restore(): void {
    if (this.source.report || !this.design || Object.keys(this.edits).length > 0) {
      return;
    }
    try {
      const kept = sessionStorage.getItem(`tripwright:${this.design.file}`);
      if (kept) {
        this.edits = JSON.parse(kept) as Edits;
        this.notice = 'Changes that were not saved have been taken up again.';
      }
    } catch {
      this.edits = {};
    }
  }

  private keep(): void {
    if (this.source.report || !this.design) {
      return;
    }
    const name = `tripwright:${this.design.file}`;
    try {
      if (this.changed === 0) {
        sessionStorage.removeItem(name);
      } else {
        sessionStorage.setItem(name, JSON.stringify(this.edits));
      }
    } catch {
      /* a browser that keeps nothing still works */
    }
  }

  private async watch(): Promise<void> {
    let wait = 500;
    for (;;) {
      try {
        const seen = this.design?.fingerprint ?? '';
        const now = await this.source.changes(seen);
        wait = 500;
        if (this.phase === 'offline') {
          this.phase = 'settled';
          this.evaluate();
        }
        if (now !== seen && !this.saving) {
          await this.changedOnDisk();
        }
      } catch (error) {
        this.fail(error);
        await new Promise((done) => setTimeout(done, wait));
        wait = Math.min(wait * 2, 8000);
      }
    }
  }

  private async changedOnDisk(): Promise<void> {
    const disk = await this.source.design();
    if (disk.fingerprint === this.design?.fingerprint) {
      return;
    }
    if (this.changed > 0) {
      this.conflict = { disk, on: 'change' };
      /* asked about once; the next change of the file asks again */
      if (this.design) {
        this.design.fingerprint = disk.fingerprint;
      }
      this.tell();
    } else {
      this.adopt(disk, 'The file was changed elsewhere; this is the file now.');
    }
  }

  private adopt(disk: DesignDocument, notice: string): void {
    this.design = disk;
    this.notice = notice;
    this.conflict = null;
    this.past = [];
    this.future = [];
    this.evaluate();
  }

  /** the file's values win: what was tried here goes */
  takeDisk(): void {
    if (this.conflict) {
      this.edits = {};
      this.keep();
      this.adopt(this.conflict.disk, 'The file on disk was taken; what was tried here is gone.');
    }
  }

  /** keep what was tried here, on top of the file as it now stands */
  keepMine(): void {
    if (this.conflict) {
      const edits = this.edits;
      this.adopt(this.conflict.disk, 'Your changes are now on top of the file as it is on disk.');
      this.edits = edits;
      this.evaluate();
    }
  }

  // ---- changes ----------------------------------------------------------------------------------

  get changed(): number {
    return Object.keys(this.edits).length;
  }

  get canUndo(): boolean {
    return this.past.length > 0;
  }

  get canRedo(): boolean {
    return this.future.length > 0;
  }

  edit(path: string, text: string): void {
    const last = this.past[this.past.length - 1];
    const now = Date.now();
    if (!last || last.path !== path || now - last.time > ONE_STEP_MS) {
      this.past.push({ edits: this.edits, path, time: now });
    } else {
      last.time = now;
    }
    this.future = [];
    const edits = { ...this.edits };
    if (text.trim() === (this.design?.values[path]?.text ?? '').trim()) {
      delete edits[path];
    } else {
      edits[path] = text;
    }
    this.setEdits(edits);
  }

  /** several values at once, as one step to undo */
  editAll(changes: Edits): void {
    this.past.push({ edits: this.edits, path: '', time: 0 });
    this.future = [];
    this.setEdits({ ...this.edits, ...changes });
  }

  private setEdits(edits: Edits): void {
    this.edits = edits;
    this.notice = '';
    this.keep();
    this.evaluate();
  }

  private step(from: Step[], to: Step[]): void {
    const step = from.pop();
    if (step) {
      to.push({ edits: this.edits, path: step.path, time: 0 });
      this.setEdits(step.edits);
    }
  }

  undo(): void {
    this.step(this.past, this.future);
  }

  redo(): void {
    this.step(this.future, this.past);
  }

  drop(): void {
    if (this.changed > 0) {
      this.past.push({ edits: this.edits, path: '', time: 0 });
      this.future = [];
      this.setEdits({});
    }
  }

  async save(): Promise<void> {
    if (!this.design || this.changed === 0) {
      return;
    }
    this.saving = true;
    try {
      const reply: SaveReply = await this.source.save(this.edits, this.design.fingerprint);
      const disk = await this.source.design();
      if (reply.conflict) {
        this.conflict = { disk, on: 'save' };
        this.tell();
      } else {
        this.edits = {};
        this.keep();
        this.adopt(disk, 'Saved: only the changed values were rewritten.');
      }
    } catch (error) {
      this.fail(error);
    } finally {
      this.saving = false;
    }
  }

  // ---- figures ----------------------------------------------------------------------------------

  /** first the quick figures, then the settled ones; what is typed meanwhile waits for its turn */
  evaluate(): void {
    this.wanted = true;
    this.views.clear();
    this.source.cancel();
    /* a study of values that no longer stand is not waited for; another sheet or unit is no such */
    if (this.key !== this.studiedFor) {
      this.studiedFor = this.key;
      this.studies.forEach((run) => run.drop());
      this.studies.clear();
    }
    /* asked first, drawn while the server works */
    if (!this.busy) {
      void this.run();
    }
    this.tell();
  }

  private async run(): Promise<void> {
    this.busy = true;
    while (this.wanted) {
      this.wanted = false;
      const edits = this.edits;
      try {
        /* what is wrong stays in view until the server knows better */
        this.phase = this.phase === 'failed' ? 'failed' : this.evaluation ? 'refining' : 'loading';
        this.take(await this.source.evaluate(edits, this.sheet, false), edits, this.source.report);
        if (!this.source.report) {
          await painted();
        }
        if (!this.wanted && !this.source.report) {
          this.take(await this.source.evaluate(edits, this.sheet, true), edits, true);
        }
      } catch (error) {
        if (!(error instanceof Cancelled)) {
          this.fail(error);
        }
      }
    }
    this.busy = false;
  }

  private take(evaluation: EvaluateDocument, edits: Edits, settled: boolean): void {
    const key = JSON.stringify([edits, this.design?.fingerprint]);
    if (this.lastSettled && key !== this.settledFor) {
      this.before = this.lastSettled;
    }
    this.evaluation = evaluation;
    this.messages = evaluation.messages;
    this.failure = null;
    this.phase = settled ? 'settled' : 'refining';
    if (settled) {
      this.lastSettled = evaluation;
      this.settledFor = key;
    }
    this.tell();
  }

  private fail(error: unknown): void {
    if (error instanceof SourceError) {
      this.failure = error.failure;
      this.messages = error.failure.messages;
      this.phase = error.failure.status === 401 ? 'offline' : 'failed';
    } else {
      this.failure = null;
      this.phase = 'offline';
    }
    this.tell();
  }

  /** a document of a view for the values as they now stand; asked for once */
  view(name: string, options: Record<string, unknown> = {}): Promise<ViewDocument> {
    const id = name + JSON.stringify(options);
    const known = this.views.get(id);
    if (known) {
      return known;
    }
    const asked = this.source.view(name, this.edits, options);
    asked.catch(() => this.views.delete(id));
    this.views.set(id, asked);
    return asked;
  }

  /** what figures belong to: the values tried and the file they stand over */
  get key(): string {
    return JSON.stringify([this.edits, this.design?.fingerprint]);
  }

  study(name: string, ask: Record<string, unknown>, watch: StudyWatch): StudyRun | null {
    const run = this.source.study(name, this.edits, ask, watch);
    if (run) {
      this.studies.add(run);
      const forget = (): void => void this.studies.delete(run);
      run.result.then(forget, forget);
    }
    return run;
  }

  value(path: string): FieldValue | undefined {
    return this.evaluation?.values[path] ?? this.design?.values[path];
  }

  setSystem(system: System): void {
    this.system = system;
    this.sheet = { ...this.sheet, system };
    this.evaluate();
  }

  setShade(shade: Shade): void {
    this.sheet = { ...this.sheet, shade };
    if (this.design) {
      this.evaluate();
    }
  }

  setSheet(width: number, height: number): void {
    if (Math.abs(width - this.sheet.width) > 1 || Math.abs(height - this.sheet.height) > 1) {
      const first = this.sheet.width === 0;
      this.sheet = { ...this.sheet, width, height, system: this.system };
      if (!first && this.design) {
        this.evaluate();
      }
    }
  }
}
