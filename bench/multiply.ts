import type { Db } from '../server/db/database.ts';
import { setUp } from './fill.ts';

const COPIED_ACCOUNTS = "('load', 'item')";

/** One expression for each column that is not copied as it is; `n` is the number of the copy, from 0. */
type Copied = Record<string, Record<string, string>>;

/**
 * Everything but the set-up, which both ledgers share, in an order in which every reference is already there. Ids are
 * spread, so that the copies of one day lie together and the newest rows are still the newest.
 */
function copiedTables(times: number): Copied {
  const spread = (column: string) => `source.${column} * ${times} + n`;
  const named = (column: string) => `source.${column} || '-' || n`;
  // The accounts of bins and the sole ones are shared; those of loads and items come after them.
  const account = (column: string) =>
    `iif((SELECT kind FROM small.account WHERE id = source.${column}) IN ${COPIED_ACCOUNTS}, ${spread(column)}, source.${column})`;
  const id = { id: spread('id') };
  const ofTicket = { ticket_id: spread('ticket_id') };
  return {
    quote: id,
    item: id,
    work: { ...id, item_id: spread('item_id') },
    in_weight: { ...id, corrects_id: spread('corrects_id'), item_id: spread('item_id') },
    manifest: { ...id, number: named('number'), status: "'draft'" },
    manifest_line: { ...id, manifest_id: spread('manifest_id') },
    load_weighing: { manifest_line_id: spread('manifest_line_id') },
    account: { ...id, manifest_line_id: spread('manifest_line_id'), item_id: spread('item_id') },
    ticket: { ...id, manifest_id: spread('manifest_id'), number: named('number'), replaces_id: spread('replaces_id') },
    ticket_total: ofTicket,
    ticket_line: { ...id, ...ofTicket },
    ticket_line_load: { ticket_line_id: spread('ticket_line_id'), manifest_line_id: spread('manifest_line_id') },
    transfer: {
      ...id,
      document_id: spread('document_id'),
      reverses_id: spread('reverses_id'),
      from_account_id: account('from_account_id'),
      to_account_id: account('to_account_id'),
    },
    reconciliation_group: ofTicket,
    reconciliation_share: ofTicket,
    request: { key: named('key') },
    event: { ...id, document_id: spread('document_id') },
  };
}

/**
 * Fills an empty ledger with every document of another one `times` over, in the same years. By SQL, because a million
 * acts would take minutes; the balances and the monthly sums follow by the ledger's own triggers, the layers at the
 * end of the transaction, and every reference is held by its own keys.
 * @param small path of the ledger to copy, made by fillYears
 */
export function multiplyYears(db: Db, small: string, times: number): void {
  db.sqlite.prepare('ATTACH DATABASE ? AS small').run(small);
  db.transaction(() => {
    setUp(db);
    for (const [table, changed] of Object.entries(copiedTables(times))) copyTable(db, table, changed, times);
    // A manifest takes lines only while it is a draft, so its status comes last.
    db.sqlite.exec(
      `UPDATE manifest SET status = (SELECT source.status FROM small.manifest AS source WHERE source.id = manifest.id / ${times})`,
    );
  });
  db.sqlite.exec('DETACH DATABASE small');
}

function copyTable({ sqlite }: Db, table: string, changed: Record<string, string>, times: number): void {
  // Not the seals: the copies get their own as they are written.
  const ofTable = sqlite.prepare("SELECT name FROM pragma_table_info(?) WHERE name <> 'seal'");
  const columns = ofTable.pluck().all(table) as string[];
  const values = columns.map((column) => changed[column] ?? `source.${column}`);
  const shared = table === 'account' ? `WHERE source.kind IN ${COPIED_ACCOUNTS}` : '';
  sqlite.exec(`
    INSERT INTO ${table} (${columns.join(', ')})
    WITH RECURSIVE copy (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM copy WHERE n < ${times - 1})
    SELECT ${values.join(', ')} FROM small.${table} AS source CROSS JOIN copy ${shared}`);
}
