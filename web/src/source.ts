// source.ts: where the documents come from: the server, or the data that a report carries.
import type { DesignDocument, Edits, EvaluateDocument, Failure, Message, ViewDocument } from './types';

export type Shade = 'none' | 'charge' | 'stress';
export interface Sheet { width: number; height: number; system: string; shade: Shade }

export class SourceError extends Error {
  constructor(readonly failure: Failure) {
    super(failure.error.text);
  }
}

export interface SaveReply { fingerprint: string; conflict?: boolean; disk?: Record<string, string | null> }

/** who looks on while a study runs */
export interface StudyWatch {
  progress(done: number, what: string, waits: boolean): void;
  part(document: ViewDocument): void;
}
export interface StudyEnd { document: ViewDocument | null; stopped: boolean }
export interface StudyRun {
  result: Promise<StudyEnd>;
  /** end it and keep what is done */
  stop(): void;
  /** end it; nobody wants it any more: the result is a Cancelled */
  drop(): void;
}

export interface Source {
  readonly report: boolean;
  design(): Promise<DesignDocument>;
  evaluate(edits: Edits, sheet: Sheet, settled: boolean): Promise<EvaluateDocument>;
  view(name: string, edits: Edits, options: Record<string, unknown>): Promise<ViewDocument>;
  /** null: there is nothing here that could run one */
  study(name: string, edits: Edits, ask: Record<string, unknown>, watch: StudyWatch): StudyRun | null;
  save(edits: Edits, fingerprint: string): Promise<SaveReply>;
  changes(seen: string): Promise<string>;
  /** views and settled figures that are being made are no longer wanted */
  cancel(): void;
}

/** what a job that was cancelled ends with */
export class Cancelled extends Error {}

function failureOf(status: number, body: Record<string, unknown>): Failure {
  const error = (body['error'] ?? {}) as Partial<Failure['error']>;
  return {
    status,
    error: {
      status: error.status ?? '',
      field: error.field ?? '',
      text: error.text ?? `the server answered ${status}`,
      hint: error.hint ?? '',
    },
    messages: (body['messages'] ?? []) as Message[],
    body,
  };
}

export class ServerSource implements Source {
  readonly report = false;
  /** jobs that are asked for, each with what ends its present wait */
  private jobs = new Map<number, () => void>();
  /** counts the cancellations: a job accepted after one is no longer wanted */
  private round = 0;
  constructor(private readonly token: string) {}

  private async call(path: string, method: string, body?: unknown): Promise<[number, Record<string, unknown>]> {
    const headers: Record<string, string> = { 'X-Tripwright-Token': this.token };
    if (method !== 'GET') {
      headers['Content-Type'] = 'application/json';
    }
    const init: RequestInit = { method, headers, cache: 'no-store' };
    if (body !== undefined) {
      init.body = JSON.stringify(body);
    }
    const reply = await fetch(path, init);
    const text = await reply.text();
    let json: Record<string, unknown> = {};
    try {
      json = JSON.parse(text) as Record<string, unknown>;
    } catch {
      json = {};
    }
    return [reply.status, json];
  }

  private async ask<T>(path: string, method: string, body?: unknown): Promise<T> {
    const [status, json] = await this.call(path, method, body);
    if (status !== 200) {
      throw new SourceError(failureOf(status, json));
    }
    return json as T;
  }

  design(): Promise<DesignDocument> {
    return this.ask('/api/design', 'GET');
  }

  /** the quick figures at once; the settled ones as a job, so that the next key does not wait for them */
  evaluate(edits: Edits, sheet: Sheet, settled: boolean): Promise<EvaluateDocument> {
    return settled
      ? this.job<EvaluateDocument>({ view: 'settled', set: edits, sheet }, 40)
      : this.ask('/api/view', 'POST', { view: 'first', set: edits, sheet });
  }

  /** as a job, so that typing is answered while a view is being made */
  view(name: string, edits: Edits, options: Record<string, unknown>): Promise<ViewDocument> {
    return this.job<ViewDocument>({ view: name, set: edits, ...options }, 400);
  }

  private end(number: number): void {
    void this.call(`/api/job?number=${number}`, 'DELETE').catch(() => undefined);
  }

  /** asks for a job until it is done, at first often, then every `longest` ms */
  private async job<T>(request: Record<string, unknown>, longest: number): Promise<T> {
    const round = this.round;
    const [accepted, queued] = await this.call('/api/job', 'POST', request);
    if (accepted !== 202) {
      throw new SourceError(failureOf(accepted, queued));
    }
    const number = Number(queued['job']);
    if (round !== this.round) {
      this.end(number);
      throw new Cancelled();
    }
    for (let wait = 20; ; wait = Math.min(wait * 1.5, longest)) {
      await new Promise<void>((done) => {
        this.jobs.set(number, done);
        setTimeout(done, wait);
      });
      if (round !== this.round) {
        throw new Cancelled();
      }
      const [status, json] = await this.call(`/api/job?number=${number}`, 'GET');
      if (round !== this.round) {
        throw new Cancelled();
      }
      if (status !== 202) {
        this.jobs.delete(number);
        if (status !== 200) {
          throw new SourceError(failureOf(status, json));
        }
        return json as T;
      }
    }
  }

  study(name: string, edits: Edits, ask: Record<string, unknown>, watch: StudyWatch): StudyRun {
    const state = { number: 0, stopped: false, dropped: false };
    const end = (): void => {
      if (state.number > 0) {
        this.end(state.number);
      }
    };
    return {
      result: this.follow({ view: name, set: edits, study: ask }, watch, state),
      stop: () => { state.stopped = true; end(); },
      drop: () => { state.dropped = true; end(); },
    };
  }

  /** asks for a study until it has ended, handing on how far it is and what is known */
  private async follow(request: Record<string, unknown>, watch: StudyWatch, state: { number: number; stopped: boolean; dropped: boolean }): Promise<StudyEnd> {
    const [accepted, queued] = await this.call('/api/job', 'POST', request);
    if (accepted !== 202) {
      throw new SourceError(failureOf(accepted, queued));
    }
    state.number = Number(queued['job']);
    if (state.stopped || state.dropped) {
      this.end(state.number);
    }
    for (let part = 0; ;) {
      await new Promise((done) => setTimeout(done, 120));
      if (state.dropped) {
        throw new Cancelled();
      }
      const [status, json] = await this.call(`/api/job?number=${state.number}&part=${part}`, 'GET');
      if (state.dropped) {
        throw new Cancelled();
      }
      if (status === 202) {
        part = Number(json['part'] ?? 0);
        if (json['partial']) {
          watch.part(json['partial'] as ViewDocument);
        }
        watch.progress(Number(json['done'] ?? 0), String(json['what'] ?? ''), json['runs'] !== true);
      } else if (status === 200) {
        return { document: json, stopped: false };
      } else if (state.stopped) {
        return { document: typeof json['schema'] === 'string' ? json : null, stopped: true };
      } else {
        throw new SourceError(failureOf(status, json));
      }
    }
  }

  cancel(): void {
    this.round++;
    for (const [number, wake] of this.jobs) {
      this.end(number);
      wake();
    }
    this.jobs.clear();
  }

  async save(edits: Edits, fingerprint: string): Promise<SaveReply> {
    const [status, json] = await this.call('/api/save', 'POST', { set: edits, fingerprint });
    if (status === 409) {
      return { ...(json as unknown as SaveReply), conflict: true };
    }
    if (status !== 200) {
      throw new SourceError(failureOf(status, json));
    }
    return json as unknown as SaveReply;
  }

  async changes(seen: string): Promise<string> {
    const reply = await this.ask<{ fingerprint: string }>(`/api/changes?seen=${encodeURIComponent(seen)}`, 'GET');
    return reply.fingerprint;
  }
}

interface ReportData {
  design: DesignDocument;
  evaluate: EvaluateDocument;
  views: Record<string, ViewDocument>;
}

export class ReportSource implements Source {
  readonly report = true;
  constructor(private readonly data: ReportData) {}

  /** the views that it holds, with those of which it says why they have no answer */
  design(): Promise<DesignDocument> {
    return Promise.resolve({ ...this.data.design, views: Object.keys(this.data.views), report: true });
  }

  study(): null {
    return null;
  }

  evaluate(): Promise<EvaluateDocument> {
    return Promise.resolve(this.data.evaluate);
  }

  view(name: string): Promise<ViewDocument> {
    const view = this.data.views[name];
    return view && typeof view['missing'] !== 'string'
      ? Promise.resolve(view)
      : Promise.reject(new SourceError(failureOf(404, { error: { text: String(view?.['missing'] ?? 'this report does not hold this view') } })));
  }

  save(): Promise<SaveReply> {
    return Promise.reject(new Error('a report cannot be saved'));
  }

  changes(): Promise<string> {
    return new Promise(() => undefined);
  }

  cancel(): void {
    /* everything is there already */
  }
}

/** the data a report carries, or the server that the address names */
export function findSource(): Source | null {
  const inline = document.getElementById('report-data');
  if (inline) {
    return new ReportSource(JSON.parse(inline.textContent ?? '{}') as ReportData);
  }
  const token = /^#?([0-9a-f]{32})/.exec(location.hash)?.[1];
  return token ? new ServerSource(token) : null;
}
