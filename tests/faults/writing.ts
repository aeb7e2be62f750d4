import type SqliteDatabase from 'better-sqlite3';
import type { Ledger } from '../../server/context.ts';
import { recordInWeight } from '../../server/ledger/acts.ts';
import { NO_MASS } from '../../server/units/mass.ts';
import { binId, gradeId, lb, setUpWorkedExample, weighIn } from '../helper.ts';
import { somePdf } from '../pictures.ts';
import { type Answer, send, sendPaper } from './server.ts';

// What the trials post, each with a mark of its own, so that it can be told afterwards how often it is in the ledger.

/** The ledger that the trials begin with: the worked example's set-up, and enough in one bin to sell from. */
export function setUpForTrials(ledger: Ledger): void {
  setUpWorkedExample(ledger);
  for (let count = 0; count < 20; count += 1) weighIn(ledger, 'YB1', '900');
}

/** One weighing by a program of its own. */
export const weighInAs = (ledger: Ledger, note: string): number =>
  recordInWeight(ledger, {
    binId: binId(ledger, 'WLO'),
    scaleId: null,
    containerId: null,
    grossTyped: '2.5',
    tareTyped: '0',
    unit: 'lb',
    grossUg: lb('2.5'),
    tareUg: NO_MASS,
    occurredOn: ledger.clock.today(),
    isEstimate: false,
    note,
  });

/** What tells a kind of post in the ledger, and how often each is there. */
const COUNTS = {
  weighing: "select note as mark, count(*) as count from in_weight where note <> '' group by note",
  undo: `select document_id as mark, count(*) as count from transfer
    where document_kind = 'in_weight' and reverses_id is not null group by document_id`,
  correction: 'select correction_reason as mark, count(*) as count from in_weight group by correction_reason',
  board: 'select seen_where as mark, count(*) as count from quote group by seen_where',
  manifest: 'select note as mark, count(*) as count from manifest group by note',
  loading: `select manifest_id as mark, count(*) as count from manifest_line
    join transfer on document_kind = 'manifest_line' and document_id = manifest_line.id group by manifest_id`,
  ticket: 'select number as mark, count(*) as count from ticket group by number',
  paper: 'select caption as mark, count(*) as count from attachment_caption group by caption',
} as const;
export type Kind = keyof typeof COUNTS;

/** How often each mark is in the ledger, of some kinds of posts; of the others nothing is read. */
export function countMarks(
  sqlite: SqliteDatabase.Database,
  kinds = Object.keys(COUNTS) as Kind[],
): (kind: Kind, mark: string) => number {
  const counts = new Map(
    kinds.map((kind) => {
      const rows = sqlite.prepare(COUNTS[kind]).all() as { mark: string | number; count: number }[];
      return [kind, new Map(rows.map((row) => [String(row.mark), row.count]))] as const;
    }),
  );
  return (kind, mark) => counts.get(kind)?.get(mark) ?? 0;
}

/** One form that is posted, and how it is found in the ledger. */
export interface Post {
  kind: Kind;
  mark: string;
  /** How many rows it makes. */
  rows: number;
  path: string;
  fields: Record<string, string>;
  paper?: Uint8Array;
}

export const sendPost = (url: string, { path, fields, paper }: Post): Promise<Answer> =>
  paper === undefined ? send(url, path, fields) : sendPaper(url, path, fields, paper);

/** Makes posts of one client; their marks and request keys are those of no other client. */
export class Client {
  readonly #name: string;
  readonly #today: string;
  #count = 0;

  constructor(name: string, today: string) {
    this.#name = name;
    this.#today = today;
  }

  #next(kind: Kind, rows: number, path: string, fields: Record<string, string>, mark?: string): Post {
    this.#count += 1;
    const own = `${this.#name}-${this.#count}`;
    return { kind, mark: mark ?? own, rows, path, fields: { ...fields, requestKey: `trial-key-${own}` } };
  }

  /** The mark that the next post will have. */
  #mark(): string {
    return `${this.#name}-${this.#count + 1}`;
  }

  weighing(): Post {
    const fields = { bin: 'CU2', gross: '12.5', unit: 'lb', occurredOn: this.#today, note: this.#mark(), confirm: '1' };
    return this.#next('weighing', 1, '/in-weights', fields);
  }

  undo(id: string): Post {
    return this.#next('undo', 1, `/in-weights/${id}/undo`, {}, id);
  }

  correction(id: string): Post {
    const fields = { bin: 'CU2', gross: '11.5', unit: 'lb', occurredOn: this.#today, reason: this.#mark() };
    return this.#next('correction', 1, `/in-weights/${id}/corrections`, fields);
  }

  board(): Post {
    const prices = { 'price-1': '3.60', 'per-1': 'lb', 'price-4': '2.45', 'per-4': 'lb' };
    return this.#next('board', 2, '/prices/boards', {
      yard: '1',
      seenOn: this.#today,
      seenWhere: this.#mark(),
      ...prices,
    });
  }

  manifest(ledgerBin: string): Post {
    return this.#next('manifest', 1, '/manifests', { yard: '1', bins: ledgerBin, note: this.#mark() });
  }

  /** Loads one pound of the only load of a draft. */
  loading(id: string, line: string): Post {
    const fields = { loadedOn: this.#today, [`gross-${line}`]: '1', [`unit-${line}`]: 'lb', confirm: '1' };
    return this.#next('loading', 1, `/manifests/${id}/loading`, fields, id);
  }

  ticket(manifest: string, grade: string): Post {
    return this.#next('ticket', 1, '/tickets', {
      manifest,
      yard: '1',
      number: this.#mark(),
      soldOn: this.#today,
      charges: '0',
      total: '2.45',
      paidBy: 'cash',
      lineCount: '1',
      'paidAs-1': grade,
      'loads-1': 'A',
      'gross-1': '1',
      'tare-1': '0',
      'deduction-1': '0',
      'net-1': '1',
      'unit-1': 'lb',
      'price-1': '2.45',
      'per-1': 'lb',
      'amount-1': '2.45',
    });
  }

  paper(bytes = 40_000): Post {
    const mark = this.#mark();
    return { ...this.#next('paper', 1, '/bins/CU2/photos', { caption: mark }), paper: somePdf(mark, bytes) };
  }
}

/** The id at the end of an address, or in its `done`. */
export const idIn = (location: string): string => /(?:done=|\/)(\d+)(?:$|[?&#])/.exec(location)?.[1] ?? '';

export { binId, gradeId };
