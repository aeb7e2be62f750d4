import type { Ledger } from '../../context.ts';
import type { AccountKind, DocumentKind } from '../../ledger/table.ts';
import { allQuotes, type Quote } from '../../prices/queries.ts';
import { Reader, type Typed } from '../../reading.ts';
import { listGrades, listYards } from '../../setup/queries.ts';
import { headOf } from './head.ts';
import { ticketText } from './money.ts';
import { priceLines } from './prices.ts';
import {
  accountsButLoads,
  expectedByGrade,
  idInKey,
  type JournalTicket,
  type JournalTransfer,
  loadAccounts,
  newestTransferId,
  ticketMoney,
  ticketNotes,
  transferKeys,
  transfersListed,
} from './queries.ts';
import { commentLines, type JournalUnit, journalUnits, massFigure, nameIn, plain } from './text.ts';

/** The ledger at one moment, as far as it may still change: what is only ever appended is read piece by piece. */
interface Snapshot {
  unit: JournalUnit;
  /** Names of accounts, but for those of loads. */
  accounts: Map<number, string>;
  /** Names of commodities by grade, quotes included. */
  commodities: Map<number, string>;
  grades: Map<number, string>;
  yards: Map<number, string>;
  quotes: readonly Quote[];
  newestTransferId: number;
  tickets: JournalTicket[];
}

const KINDS: Record<Exclude<AccountKind, 'bin' | 'load'>, string> = {
  item: 'Items',
  outside: 'Outside',
  sold: 'Sold',
  deducted: 'Deducted',
  scale_difference: 'Scale difference',
  count_difference: 'Count difference',
  waste: 'Waste',
  parts: 'Parts',
  loss: 'Loss',
};

const DOCUMENTS: Record<DocumentKind, string> = {
  in_weight: 'In-weight',
  shortfall: 'Shortfall',
  recount: 'Recount',
  bin_transfer: 'Move',
  manifest_line: 'Load',
  load_return: 'Return',
  ticket: 'Ticket',
};

/** How the page and the command name it, beside the files of rows. */
export const journal = {
  name: 'journal',
  fileName: 'tarebook.journal',
  sentence:
    'The whole ledger as plain text in double entries: weights by grade and account, and the money of every ticket. For ' +
    'accounting programs that read journals.',
} as const;

/** So many transfers or tickets are read and written at a time: about 100 kB, and a few milliseconds. */
const AT_ONCE = 500;
const KEYS_AT_ONCE = 10_000;

/**
 * The whole ledger as a plain-text journal of double entries, in pieces. What it says is the ledger as it is now, also
 * when somebody weighs in while the pieces are taken: they may be taken as slowly as the other end reads.
 * @param typed `unit` for the weights: g, kg or tonne, in which a microgram can be written exactly; without it the
 * ledger's own when it is one of them, otherwise kg
 * @throws Unreadable for another unit
 */
export function journalPieces(ledger: Ledger, typed: Typed): Iterable<string> {
  const unit = unitOf(ledger, typed);
  const snapshot = ledger.db.sqlite.transaction(() => takeSnapshot(ledger, unit)).deferred();
  return pieces(ledger, snapshot);
}

function unitOf({ settings }: Ledger, typed: Typed): JournalUnit {
  const exact = (unit: string | undefined) => journalUnits.find((name) => name === unit);
  const reader = new Reader(typed, settings);
  if (reader.raw('unit') === '') return exact(settings.unit) ?? 'kg';
  const asked = exact(reader.massUnit('unit'));
  if (asked === undefined) {
    const say = 'Choose g, kg or tonne for a journal. In other units a microgram cannot be written exactly.';
    reader.problem('unit', say);
  }
  reader.done();
  return asked ?? 'kg';
}

function takeSnapshot({ db }: Ledger, unit: JournalUnit): Snapshot {
  const grades = new Map(listGrades(db).map(({ id, name }) => [id, nameIn(name, id)]));
  const accountName = ({ kind, bin_id, code }: ReturnType<typeof accountsButLoads>[number]): string =>
    kind === 'bin' ? `Mass:Bins:${nameIn(code ?? '', bin_id ?? 0)}` : `Mass:${KINDS[kind as keyof typeof KINDS]}`;
  return {
    unit,
    accounts: new Map(accountsButLoads(db).map((account) => [account.id, accountName(account)])),
    // The unit is part of the name: no grade can then have the name of the currency.
    commodities: new Map([...grades].map(([id, name]) => [id, `"${unit} ${name}"`])),
    grades,
    yards: new Map(listYards(db).map(({ id, name }) => [id, nameIn(name, id)])),
    quotes: allQuotes(db),
    newestTransferId: newestTransferId(db),
    tickets: ticketMoney(db),
  };
}

function* pieces(ledger: Ledger, snapshot: Snapshot): Generator<string> {
  yield headOf(ledger, snapshot);
  yield* priceLines(ledger, snapshot);
  yield '\n; What was moved, by day\n\n';
  yield* transferPieces(ledger, snapshot);
  yield '; What was paid, by day\n\n';
  yield* ticketPieces(ledger, snapshot);
}

function* transferPieces({ db }: Ledger, snapshot: Snapshot): Generator<string> {
  const keys = yield* sortedKeys(db, snapshot.newestTransferId);
  for (let start = 0; start < keys.length; start += AT_ONCE) {
    const transfers = transfersListed(db, [...keys.subarray(start, start + AT_ONCE)].map(idInKey));
    const accountIds = new Set(transfers.flatMap((row) => [row.from_account_id, row.to_account_id]));
    for (const id of snapshot.accounts.keys()) accountIds.delete(id);
    const loads = new Map(loadAccounts(db, accountIds).map((load) => [load.id, loadName(load, snapshot)]));
    const nameOf = (id: number) => snapshot.accounts.get(id) ?? loads.get(id) ?? '';
    yield transfers.map((transfer) => transferText(transfer, snapshot, nameOf)).join('');
  }
}

/** The transfers by day, then by id. Gives way now and then, as it goes through all of them. */
function* sortedKeys(db: Ledger['db'], newest: number): Generator<string, Float64Array> {
  let keys = new Float64Array(KEYS_AT_ONCE);
  let count = 0;
  for (let last = 0; last < newest; ) {
    const found = transferKeys(db, last, KEYS_AT_ONCE).filter((key) => idInKey(key) <= newest);
    if (count + found.length > keys.length) {
      const more = new Float64Array(keys.length * 2 + found.length);
      more.set(keys);
      keys = more;
    }
    keys.set(found, count);
    count += found.length;
    last = idInKey(found.at(-1) ?? newest);
    yield '';
  }
  return keys.subarray(0, count).sort();
}

function loadName(load: ReturnType<typeof loadAccounts>[number], { yards }: Snapshot): string {
  const manifest = nameIn(load.number, load.manifest_id);
  return `Mass:Loads:${yards.get(load.yard_id) ?? ''}:${manifest}:${nameIn(load.label, load.manifest_line_id)}`;
}

function transferText(
  transfer: JournalTransfer,
  { unit, commodities }: Snapshot,
  nameOf: (accountId: number) => string,
): string {
  const figure = massFigure(transfer.mass_ug, unit);
  const commodity = commodities.get(transfer.grade_id) ?? '';
  const document = `${DOCUMENTS[transfer.document_kind]} ${transfer.document_id}`;
  const reverses = transfer.reverses_id === null ? '' : `    ; takes back T${transfer.reverses_id}\n`;
  return (
    `${transfer.occurred_on} * (T${transfer.id}) ${document} | ${plain(transfer.reason)}\n` +
    reverses +
    commentLines(transfer.note ?? '') +
    `    ${nameOf(transfer.to_account_id)}  ${figure} ${commodity}\n` +
    `    ${nameOf(transfer.from_account_id)}  -${figure} ${commodity}\n\n`
  );
}

function* ticketPieces({ db, settings }: Ledger, { tickets, grades, yards }: Snapshot): Generator<string> {
  for (let start = 0; start < tickets.length; start += AT_ONCE) {
    const some = tickets.slice(start, start + AT_ONCE);
    const ids = some.map(({ id }) => id);
    const expected = Map.groupBy(expectedByGrade(db, ids), (row) => row.ticket_id);
    const notes = ticketNotes(db, ids);
    const text = (ticket: JournalTicket) =>
      ticketText(ticket, settings.currency, {
        yard: yards.get(ticket.yard_id) ?? '',
        note: notes.get(ticket.id) ?? '',
        expected: (expected.get(ticket.id) ?? []).map((row) => [grades.get(row.grade_id) ?? '', row.expected]),
      });
    yield some.map(text).join('');
  }
}
