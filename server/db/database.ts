import type SqliteDatabase from 'better-sqlite3';
import {
  type Compilable,
  type CompiledQuery,
  DummyDriver,
  type Insertable,
  Kysely,
  type RawBuilder,
  SqliteAdapter,
  SqliteIntrospector,
  SqliteQueryCompiler,
} from 'kysely';
import { FileWatch } from './file-watch.ts';
import { useSeals } from './seals.ts';
import type { Tables } from './tables.ts';

/**
 * Writes every value as `+?`. SQLite as better-sqlite3 builds it (ENABLE_STAT4) plans a statement with a join anew
 * whenever a value that it compares with a column is bound, which costs ten times the answer; behind the plus, which
 * changes no value, it does not look. Nothing is lost: without ANALYZE it knows no distribution to plan by.
 */
class PlannedOnce extends SqliteQueryCompiler {
  protected override getCurrentParameterPlaceholder(): string {
    return '+?';
  }
}

/** Kysely as a typed builder only: it writes the SQL, better-sqlite3 runs it. See DEVELOPERS.md, decision 2. */
export const build = new Kysely<Tables>({
  dialect: {
    createAdapter: () => new SqliteAdapter(),
    createDriver: () => new DummyDriver(),
    createIntrospector: (db) => new SqliteIntrospector(db),
    createQueryCompiler: () => new PlannedOnce(),
  },
});

/** A query of the builder, or one written with its `sql` tag. */
type Query<Row> = Compilable<Row> | RawBuilder<Row>;

/**
 * A query that is written once and from then on only given its values, in the order in which they stand in it. To write
 * a query costs several times what SQLite needs to answer it, so this is for what a weigh-in waits for.
 */
export function writtenOnce<Row>(query: () => Query<Row>): (...values: unknown[]) => Compilable<Row> {
  let written: CompiledQuery<Row> | undefined;
  return (...values) => {
    written ??= compile(query()) as CompiledQuery<Row>;
    const compiled: CompiledQuery<Row> = { ...written, parameters: values };
    return { compile: () => compiled };
  };
}

const compile = (query: Query<unknown>) => ('isRawBuilder' in query ? query.compile(build) : query.compile());

const watchOf = (sqlite: SqliteDatabase.Database): FileWatch | null =>
  sqlite.memory ? null : new FileWatch(sqlite.name);

const wholeOf = (sqlite: SqliteDatabase.Database) => sqlite.transaction((act: () => unknown) => act());

/** One open ledger file. Everything on it is synchronous, so no other work can come between two statements. */
export class Db {
  #sqlite: SqliteDatabase.Database;
  readonly #statements = new Map<string, SqliteDatabase.Statement>();
  /** By table and columns: as many as there are shapes of rows. */
  readonly #inserts = new Map<string, SqliteDatabase.Statement>();
  #whole: SqliteDatabase.Transaction<(act: () => unknown) => unknown>;
  #watch: FileWatch | null;
  /** How often another file took the place of the one that was open. */
  #exchanges = 0;
  #followUp: ((db: Db) => void) | null = null;

  constructor(sqlite: SqliteDatabase.Database) {
    useSeals(sqlite);
    this.#sqlite = sqlite;
    this.#whole = wholeOf(sqlite);
    this.#watch = watchOf(sqlite);
  }

  /** The open file itself. Asked for anew each time: a restore puts another in its place. */
  get sqlite(): SqliteDatabase.Database {
    return this.#sqlite;
  }

  /** All rows of a query. */
  many<Row>(query: Query<Row>): Row[] {
    const { sql, parameters } = compile(query);
    return this.#watched(() => this.#prepare(sql).all(...parameters) as Row[]);
  }

  /** The rows of a query one after the other, where there may be more than fit into memory. Nothing is written meanwhile. */
  *each<Row>(query: Query<Row>): Generator<Row, void, undefined> {
    const { sql, parameters } = compile(query);
    yield* this.sqlite.prepare(sql).iterate(...parameters) as IterableIterator<Row>;
  }

  /** The first row of a query, or undefined. */
  maybe<Row>(query: Query<Row>): Row | undefined {
    const { sql, parameters } = compile(query);
    return this.#watched(() => this.#prepare(sql).get(...parameters) as Row | undefined);
  }

  /** The first row of a query that always has one; throws when it has none. */
  one<Row>(query: Query<Row>): Row {
    const row = this.maybe(query);
    if (row === undefined) throw new Error(`no row: ${compile(query).sql}`);
    return row;
  }

  /** Runs a statement; returns the row id of the last insert and the number of rows changed. */
  run(query: Query<unknown>): { id: number; changes: number } {
    const { sql, parameters } = compile(query);
    if (!this.sqlite.inTransaction) this.#watch?.refuseWrites();
    const result = this.#watched(() => this.#prepare(sql).run(...parameters));
    return { id: Number(result.lastInsertRowid), changes: result.changes };
  }

  /**
   * Appends one row and returns its id. The text depends on the table and on which columns are given only, so a row
   * that is appended often is written once; every column is named.
   */
  insert<Name extends keyof Tables>(table: Name, row: Insertable<Tables[Name]>): number {
    const columns = Object.keys(row);
    const key = `${table}:${columns.join()}`;
    let statement = this.#inserts.get(key);
    if (statement === undefined) {
      const names = columns.map((column) => `"${column}"`).join(', ');
      const values = columns.map(() => '?').join(', ');
      statement = this.sqlite.prepare(`insert into "${table}" (${names}) values (${values})`);
      this.#inserts.set(key, statement);
    }
    return Number(statement.run(...Object.values(row)).lastInsertRowid);
  }

  /**
   * Runs `act` whole or not at all. The lock is taken at once (BEGIN IMMEDIATE), so that the page and a command cannot
   * both read, then write. Inside another transaction it is a part of that: what it throws must end the outer one too.
   */
  transaction<Result>(act: () => Result): Result {
    if (this.sqlite.inTransaction) return act();
    this.#watch?.refuseWrites();
    const whole = () => {
      const result = act();
      this.#followUp?.(this);
      return result;
    };
    return this.#watched(() => this.#whole.immediate(whole) as Result);
  }

  /** What is done at the end of each transaction, as a part of it: what follows from the rows is brought up to them. */
  followUpBy(followUp: (db: Db) => void): void {
    this.#followUp = followUp;
  }

  /** A part of a transaction that may be refused while the rest goes on: nothing of it stays when it throws. */
  savepoint<Result>(act: () => Result): Result {
    return this.#whole(act) as Result;
  }

  /** What SQLite finds damaged on the way is remembered: nothing more is written then. */
  #watched<Result>(act: () => Result): Result {
    try {
      return act();
    } catch (error) {
      this.#watch?.note(error);
      throw error;
    }
  }

  /**
   * Closes the file, lets `act` put another one in its place, and opens what is there by then: one step, so that no
   * request comes in between. When `act` throws, the same file is opened again.
   */
  exchange(act: () => void, open: () => SqliteDatabase.Database): void {
    this.close();
    try {
      act();
    } finally {
      this.#sqlite = open();
      this.#whole = wholeOf(this.#sqlite);
      this.#watch = watchOf(this.#sqlite);
      this.#exchanges += 1;
    }
  }

  /** Another text as soon as anything in the ledger is another, whether it was written here or by another program. */
  version(): string {
    // The first counts what others committed, the second what was written here, taken back or not.
    const byOthers = this.#prepare('PRAGMA data_version').raw().get() as unknown[];
    const byUs = this.#prepare('SELECT total_changes()').raw().get() as unknown[];
    return `${this.#exchanges} ${byOthers[0]} ${byUs[0]}`;
  }

  close(): void {
    this.#statements.clear();
    this.#inserts.clear();
    this.sqlite.close();
  }

  #prepare(sql: string): SqliteDatabase.Statement {
    let statement = this.#statements.get(sql);
    if (statement === undefined) {
      statement = this.sqlite.prepare(sql);
      if (this.#statements.size > 500) this.#statements.clear();
      this.#statements.set(sql, statement);
    }
    return statement;
  }
}
