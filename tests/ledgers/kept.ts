import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { brotliDecompressSync } from 'node:zlib';
import type SqliteDatabase from 'better-sqlite3';

const numbersIn = (folder: URL, name: RegExp): number[] =>
  readdirSync(folder)
    .flatMap((file) => name.exec(file)?.[1] ?? [])
    .map((digits) => Number.parseInt(digits, 10))
    .sort((a, b) => a - b);

/** The formats that ledgers of the repository have, as the Tarebook of that time wrote them. */
export const keptFormats = numbersIn(new URL('.', import.meta.url), /^(\d{4})\.sqlite\.br$/);

/** Every format that there is, by the migrations. */
export const formats = numbersIn(new URL('../../migrations/', import.meta.url), /^(\d{4})_.*\.sql$/);

/** The text of the migration that leads to a format. */
export function migrationTo(format: number): string {
  const folder = new URL('../../migrations/', import.meta.url);
  const name = readdirSync(folder).find((file) => file.startsWith(String(format).padStart(4, '0')));
  return readFileSync(new URL(name ?? '', folder), 'utf8');
}

/** Puts the kept ledger of a format where a test wants it: one plain file, with nothing beside it. */
export function unpack(format: number, file: string): void {
  const packed = new URL(`${String(format).padStart(4, '0')}.sqlite.br`, import.meta.url);
  writeFileSync(file, brotliDecompressSync(readFileSync(packed)));
}

/** The columns of every table that holds what somebody entered or what follows from it; by table. */
export type Shape = Record<string, string[]>;

export function shapeOf(sqlite: SqliteDatabase.Database): Shape {
  const tables = sqlite
    .prepare(
      "select name from sqlite_master where type = 'table' and name not like 'sqlite_%' and name not like 'found%'",
    )
    .pluck()
    .all() as string[];
  const columns = sqlite.prepare('select name from pragma_table_info(?) order by name').pluck();
  return Object.fromEntries(tables.sort().map((table) => [table, columns.all(table) as string[]]));
}

/** A ledger gets a name of its own when it is upgraded to the format that has one. */
const OWN_NAME = /^\["ledger_id",/;

/** Every row of the tables of a shape, in its columns: what an upgrade must leave as it was. */
export function contentOf(sqlite: SqliteDatabase.Database, shape: Shape): Record<string, string[]> {
  const read = ([table, columns]: [string, string[]]) => {
    const rows = sqlite
      .prepare(`select ${columns.map((name) => `"${name}"`).join()} from "${table}"`)
      .raw()
      .all();
    const texts = rows.map((row) => JSON.stringify(row)).sort();
    return [table, table === 'setting' ? texts.filter((text) => !OWN_NAME.test(text)) : texts];
  };
  return Object.fromEntries(Object.entries(shape).map(read));
}
