// types.ts: the documents as they come from the server (docs/develop/page.md).

export interface Contribution { cause: string; value: number }

export interface Measure {
  value: number | string | null;
  unit: string;
  state: string;
  rule: string | null;
  limit: number | string | [number, number] | null;
  met: boolean | null;
  margin: number | null;
  basis: string;
  contributions: Contribution[];
  at?: { value: number; unit: string };
  least?: number;
  band?: [number, number];
  searched_to?: { value: number; unit: string };
  why?: string;
  note?: string;
}

export interface Warning { text: string; field: string }

/** what an assessment comes to, as the command line's first line says it */
export interface Verdict { verdict: string; sentence: string; state: string; asked: number; met: number; left_out: string[] }

export interface CheckDocument {
  schema: string;
  verdict?: Verdict;
  design: { name: string; revision: string; file: string };
  measures: Record<string, Measure>;
  warnings: Warning[];
  not_judged?: { what: string; why: string }[];
  refining?: boolean;
}

export interface FieldInfo {
  path: string;
  type: 'quantity' | 'number' | 'count' | 'choice' | 'text' | 'table';
  unit: string;
  fallback: string | null;
  must: boolean;
  least: number;
  most: number;
  tolerance: string;
  part: string;
  when: string;
  choices: { word: string; help: string }[];
  help: string;
  source: string;
}

export interface FieldValue {
  text: string | null;
  shown: string;
  origin: string;
  applies: boolean;
  line: number;
}

export interface MeasureInfo { name: string; unit: string; better: string; help: string; section: string;
  /** how the value is rounded where it is shown: 1 up, -1 down, 0 to the nearest */
  rounds?: number }

export interface Message { severity: string; text: string; field: string; hint: string; line: number; excerpt: string }

export interface DesignDocument {
  name: string;
  revision: string;
  file: string;
  fingerprint: string;
  version: string;
  date: string;
  fields: FieldInfo[];
  measures: MeasureInfo[];
  views: string[];
  values: Record<string, FieldValue>;
  requirements: string[];
  messages: Message[];
  /** names of other designs in the same folder */
  siblings?: string[];
  report?: boolean;
}

export interface EvaluateDocument {
  values: Record<string, FieldValue>;
  requirements: string[];
  messages: Message[];
  check: CheckDocument;
  drawing: string;
}

export interface Failure {
  status: number;
  error: { status: string; field: string; text: string; hint: string };
  messages: Message[];
  body: Record<string, unknown>;
}

export type Edits = Record<string, string>;

/** any document of a view; the view knows what it holds */
export type ViewDocument = Record<string, unknown>;
