import { hash } from 'node:crypto';
import type SqliteDatabase from 'better-sqlite3';

/**
 * Each row carries a seal: the first sixteen bytes of the SHA-256 over its own content and, where it was written down
 * for good, the seal of the row before it. So whatever is changed, put in between or taken out behind Tarebook's back is
 * found and named. It guards against failing disks and hasty hands, not against somebody who seals anew: there is no
 * secret in it. How a seal is made never changes, or old ledgers could not be checked any more.
 */
const SEAL_BYTES = 16;

/** What a row is sealed onto. */
type Onto =
  /** The row before it in the same table, which numbers its rows itself and only grows. */
  | 'row before'
  /** The row of another table that it says more of, by that row's id. */
  | { row: string }
  /** Nothing: the rows may change, and are sealed anew at every change. */
  | 'nothing';

const ONTO: Readonly<Record<string, Onto>> = {
  in_weight: 'row before',
  recount: 'row before',
  bin_transfer: 'row before',
  transfer: 'row before',
  quote: 'row before',
  quote_take_back: 'row before',
  quote_take_back_undone: { row: 'quote_take_back' },
  load_return: 'row before',
  load_return_undone: { row: 'load_return' },
  ticket: 'row before',
  ticket_line: 'row before',
  ticket_line_load: { row: 'ticket_line' },
  ticket_total: { row: 'ticket' },
  ticket_take_back: 'row before',
  ticket_take_back_undone: { row: 'ticket_take_back' },
  scale_check: 'row before',
  scale_check_undone: { row: 'scale_check' },
  attachment: 'row before',
  attachment_bytes: { row: 'attachment' },
  attachment_preview: { row: 'attachment' },
  attachment_caption: 'row before',
  attachment_mark: 'row before',
  event: 'row before',
  manifest: 'nothing',
  manifest_line: 'nothing',
  load_weighing: 'nothing',
  account: 'nothing',
  setting: 'nothing',
  grade: 'nothing',
  container: 'nothing',
  scale: 'nothing',
  yard: 'nothing',
  yard_grade: 'nothing',
  yard_scale: 'nothing',
  yard_scale_family: 'nothing',
  bin: 'nothing',
  passphrase: 'nothing',
  device: 'nothing',
  home_address: 'nothing',
  backup_note: 'row before',
  item_kind: 'nothing',
  kind_yield: 'nothing',
  item: 'nothing',
  work: 'row before',
  work_undone: { row: 'work' },
  work_clock: 'nothing',
  item_output: 'row before',
  item_output_undone: { row: 'item_output' },
  part_sale: 'row before',
  part_sale_undone: { row: 'part_sale' },
  wire_kind: 'nothing',
  wire_sample: 'row before',
  wire_sample_undone: { row: 'wire_sample' },
  stripping: 'row before',
};

/** Every table whose rows are sealed. */
export const sealedTables: readonly string[] = Object.keys(ONTO);

/** Those of them that a ledger has by its format, and with a place for a seal. */
const tablesWithSeals = (sqlite: SqliteDatabase.Database): string[] =>
  sealedTables.filter(
    (table) => sqlite.prepare("SELECT 1 FROM pragma_table_info(?) WHERE name = 'seal'").get(table) !== undefined,
  );

type Cell = string | number | Uint8Array | null;

/** A cell as it goes into a seal. */
const told = (cell: Cell): string | number | null => (cell instanceof Uint8Array ? hash('sha256', cell) : cell);

/**
 * What is empty is left out, so that a column which is added to a table later changes no seal.
 * @param names of the table, then of its columns, in alphabetical order
 */
function sealOf(names: readonly string[], before: Buffer | null, cells: readonly Cell[]): Buffer {
  const parts: (string | number | null)[] = [names[0] ?? '', before === null ? null : before.toString('hex')];
  for (let index = 0; index < cells.length; index += 1) {
    const cell = cells[index] ?? null;
    if (cell !== null && cell !== '') parts.push(names[index + 1] ?? '', told(cell));
  }
  return hash('sha256', JSON.stringify(parts), 'buffer').subarray(0, SEAL_BYTES);
}

interface Columns {
  /** All but the seal, in alphabetical order. */
  names: string[];
  /** Those that tell rows apart. */
  key: string[];
}

function columnsOf(sqlite: SqliteDatabase.Database, table: string): Columns {
  const found = sqlite.prepare("SELECT name, pk FROM pragma_table_info(?) WHERE name <> 'seal'").all(table);
  const columns = (found as { name: string; pk: number }[]).sort((a, b) => (a.name < b.name ? -1 : 1));
  return { names: columns.map(({ name }) => name), key: columns.filter(({ pk }) => pk > 0).map(({ name }) => name) };
}

/** SQL for the seal that a row is sealed onto; `row` is the name by which the statement knows the row. */
function sealBefore(table: string, row: string): string {
  const onto = ONTO[table];
  if (onto === undefined || onto === 'nothing') return 'NULL';
  if (onto === 'row before') return `(SELECT seal FROM ${table} WHERE id < ${row}.id ORDER BY id DESC LIMIT 1)`;
  return `(SELECT seal FROM ${onto.row} WHERE id = ${row}.${onto.row}_id)`;
}

/** SQL for the seal that a row is due. */
const sealDue = (table: string, row: string, { names }: Columns): string =>
  `row_seal('${[table, ...names].join(' ')}', ${sealBefore(table, row)}, ${names.map((name) => `${row}."${name}"`).join(', ')})`;

/** SQL that seals what has no seal yet, or, in a row that may change, the seal of what it was before. */
function sealingTrigger(table: string, columns: Columns, when: 'INSERT' | 'UPDATE'): string {
  const same = columns.key.map((name) => `"${name}" = NEW."${name}"`).join(' AND ');
  const isDue = when === 'INSERT' ? 'NEW.seal IS NULL' : 'NEW.seal IS OLD.seal';
  return `CREATE TEMP TRIGGER IF NOT EXISTS seal_${table}_${when} AFTER ${when} ON main.${table} WHEN ${isDue}
    BEGIN UPDATE ${table} SET seal = ${sealDue(table, 'NEW', columns)} WHERE ${same}; END`;
}

/** Teaches a connection how a seal is made, under the name `row_seal`: the table and its columns, the seal before, the cells. */
function knowSeals(sqlite: SqliteDatabase.Database): void {
  const names = new Map<string, string[]>();
  const rowSeal = (tableAndColumns: string, before: Buffer | null, ...cells: Cell[]): Buffer => {
    const known = names.get(tableAndColumns) ?? tableAndColumns.split(' ');
    names.set(tableAndColumns, known);
    return sealOf(known, before, cells);
  };
  sqlite.function('row_seal', { varargs: true, deterministic: true }, rowSeal as (...cells: unknown[]) => unknown);
}

/**
 * Makes a connection put a seal on every row that it writes. The triggers are the connection's own and made
 * from the columns that there are, so that a migration which adds one need not think of them.
 */
function sealFromNowOn(sqlite: SqliteDatabase.Database): void {
  for (const table of tablesWithSeals(sqlite)) {
    const columns = columnsOf(sqlite, table);
    sqlite.exec(sealingTrigger(table, columns, 'INSERT'));
    if (ONTO[table] === 'nothing') sqlite.exec(sealingTrigger(table, columns, 'UPDATE'));
  }
}

/** Makes a connection read and write seals. */
export function useSeals(sqlite: SqliteDatabase.Database): void {
  knowSeals(sqlite);
  if (!sqlite.readonly) sealFromNowOn(sqlite);
}

/**
 * Seals the rows that have no seal, in the order of their ids: those from before there were seals, and what a migration
 * wrote. A migration that changes a row sets its seal to NULL.
 */
export function sealWhatIsThere(sqlite: SqliteDatabase.Database): void {
  knowSeals(sqlite);
  for (const table of tablesWithSeals(sqlite)) {
    const columns = columnsOf(sqlite, table);
    sqlite.exec(`UPDATE ${table} AS sealed SET seal = ${sealDue(table, 'sealed', columns)} WHERE seal IS NULL`);
  }
}

/**
 * The seal of a row that is about to be appended to a table whose rows belong to another's. For what is large: the
 * triggers would have it copied for them.
 */
export function sealOfNew(sqlite: SqliteDatabase.Database, table: string, row: Readonly<Record<string, Cell>>): Buffer {
  const { names } = columnsOf(sqlite, table);
  const onto = ONTO[table];
  if (typeof onto !== 'object') throw new Error(`the rows of ${table} belong to none`);
  const parent = sqlite.prepare(`SELECT seal FROM ${onto.row} WHERE id = ?`).pluck();
  const before = parent.get(row[`${onto.row}_id`]) as Buffer;
  return sealOf(
    [table, ...names],
    before,
    names.map((name) => row[name] ?? null),
  );
}

/** The rows of a table that are not as they were sealed, or never were, each by the columns that tell it apart. */
export function brokenSeals(sqlite: SqliteDatabase.Database, table: string): string[] {
  const columns = columnsOf(sqlite, table);
  const key = columns.key.map((name) => `sealed."${name}"`).join(" || ' ' || ");
  return sqlite
    .prepare(`SELECT ${key} FROM ${table} AS sealed WHERE seal IS NOT ${sealDue(table, 'sealed', columns)}`)
    .pluck()
    .all()
    .map(String);
}
