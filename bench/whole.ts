import { fixedClock } from '../server/clock.ts';
import { openLedger } from '../server/context.ts';
import { openDb } from '../server/db/open.ts';
import { exportPieces, findExport } from '../server/files/exports/names.ts';
import { reconciledTicket } from '../server/reconciliation/queries.ts';
import { benchToday } from './fill.ts';

/**
 * What reads the whole ledger, in a process of its own, so that its memory can be told. Arguments: the ledger's file,
 * then `reconciliations`, `balances`, or the name of a file to export. Prints rows, milliseconds, and megabytes at most.
 */
const [, , file = '', what = ''] = process.argv;
const db = openDb(file);
const ledger = openLedger(db, fixedClock(benchToday));

/** Works every ticket out anew. @returns how many there were */
function reconcileAll(): number {
  const ids = db.sqlite.prepare('SELECT id FROM ticket').pluck().all() as number[];
  for (const id of ids) reconciledTicket(db, ledger.settings, id);
  return ids.length;
}

/** Adds every transfer up anew. */
function balanceAll(): number {
  db.sqlite
    .prepare(
      `SELECT account_id, grade_id, sum(mass_ug) FROM (
         SELECT to_account_id AS account_id, grade_id, mass_ug FROM transfer
         UNION ALL SELECT from_account_id, grade_id, -mass_ug FROM transfer)
       GROUP BY account_id, grade_id`,
    )
    .all();
  return db.sqlite.prepare('SELECT count(*) FROM transfer').pluck().get() as number;
}

function exportAll(name: string): number {
  const found = findExport(name);
  if (found === undefined) throw new Error(`no file of ${name}`);
  let lines = 0;
  for (const piece of exportPieces(ledger, found, {})) lines += piece.split('\r\n').length - 1;
  return lines - 1;
}

const begun = performance.now();
const rows = what === 'reconciliations' ? reconcileAll() : what === 'balances' ? balanceAll() : exportAll(what);
const took = performance.now() - begun;
console.log(rows, took, process.resourceUsage().maxRSS / 1024);
db.close();
