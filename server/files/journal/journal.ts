import type { Ledger } from '../../context.ts';
import type { AccountKind, DocumentKind } from '../../ledger/table.ts';
import { Reader, type Typed } from '../../reading.ts';
import { listGrades, listYards } from '../../setup/queries.ts';
import { headOf } from './head.ts';
import { ticketText } from './money.ts';
import { BestPrices } from './prices.ts';
import {
  type Appended,
  accountsButLoads,
  expectedByGrade,
  idInKey,
  type JournalTicket,
  type JournalTransfer,
  keysAfter,
  loadAccounts,
  newestId,
  quotesListed,
  ticketMoney,
  ticketNotes,
  transfersListed,
} from './queries.ts';
import { commentLines, type JournalUnit, journalUnits, massFigure, nameIn, plain } from './text.ts';

/** The ledger at one moment, as far as it may still change: what is only ever appended is read piece by piece. */
interface Snapshot {
  unit: JournalUnit;
  /** Names of accounts, but for those of loads. */
  accounts: Map<number, string>;
  /** Names of commodities by grade, with their quotation marks. */
  commodities: Map<number, string>;
  grades: Map<number, string>;
  yards: Map<number, string>;
  /** Newest rows; later ones are not told. */
  newest: Record<Appended, number>;
  tickets: JournalTicket[];
}

const KINDS: Record<Exclude<AccountKind, 'bin' | 'load' | 'item'>, string> = {
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
  stripping: 'Stripping',
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

/** So much is read and written at a time: about 20 kB and a millisecond. More at a time takes more memory, not less time. */
const AT_ONCE = 100;
const TICKETS_AT_ONCE = 20;
const KEYS_AT_ONCE = 2_000;

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
  const accountName = (account: ReturnType<typeof accountsButLoads>[number]): string => {
    const { kind, bin_id, code, item_id, item_kind } = account;
    if (kind === 'bin') return `Mass:Bins:${nameIn(code ?? '', bin_id ?? 0)}`;
    // The number comes first: by it an item is told from others of its kind, whatever they are called.
    if (kind === 'item') return `Mass:Items:${nameIn(`${item_id} ${item_kind}`, item_id ?? 0)}`;
    return `Mass:${KINDS[kind as keyof typeof KINDS]}`;
  };
  return {
    unit,
    accounts: new Map(accountsButLoads(db).map((account) => [account.id, accountName(account)])),
    // The unit is part of the name: no grade can then have the name of the currency.
    commodities: new Map([...grades].map(([id, name]) => [id, `"${unit} ${name}"`])),
    grades,
    yards: new Map(listYards(db).map(({ id, name }) => [id, nameIn(name, id)])),
    newest: { transfer: newestId(db, 'transfer'), quote: newestId(db, 'quote') },
    tickets: ticketMoney(db),
  };
}

function* pieces(ledger: Ledger, snapshot: Snapshot): Generator<string> {
  yield headOf(ledger, snapshot);
  yield* pricePieces(ledger, snapshot);
  yield '\n; What was moved, by day\n\n';
  yield* transferPieces(ledger, snapshot);
  yield '; What was paid, by day\n\n';
  yield* ticketPieces(ledger, snapshot);
}

function* pricePieces(ledger: Ledger, snapshot: Snapshot): Generator<string> {
  const best = new BestPrices(ledger, snapshot);
  for (const ids of listsByDay(ledger.db, 'quote', snapshot.newest.quote)) {
    yield quotesListed(ledger.db, ids)
      .map((quote) => best.take(quote))
      .join('');
  }
  yield best.rest();
}

function* transferPieces({ db }: Ledger, snapshot: Snapshot): Generator<string> {
  for (const ids of listsByDay(db, 'transfer', snapshot.newest.transfer)) {
    const transfers = transfersListed(db, ids);
    const accountIds = new Set(transfers.flatMap((row) => [row.from_account_id, row.to_account_id]));
    for (const id of snapshot.accounts.keys()) accountIds.delete(id);
    const loads = new Map(loadAccounts(db, accountIds).map((load) => [load.id, loadName(load, snapshot)]));
    const nameOf = (id: number) => snapshot.accounts.get(id) ?? loads.get(id) ?? '';
    yield transfers.map((transfer) => transferText(transfer, snapshot, nameOf)).join('');
  }
}

/** The ids of all rows up to one, by day, then by id, in lists; empty ones on the way, to give way to others. */
function* listsByDay(db: Ledger['db'], table: Appended, newest: number): Generator<number[]> {
  const keys = new Float64Array(newest);
  let count = 0;
  for (let last = 0; last < newest; ) {
    const found = keysAfter(db, table, last, KEYS_AT_ONCE).filter((key) => idInKey(key) <= newest);
    keys.set(found, count);
    count += found.length;
    last = idInKey(found.at(-1) ?? newest);
    yield [];
  }
  const sorted = keys.subarray(0, count).sort();
  for (let start = 0; start < count; start += AT_ONCE) {
    yield [...sorted.subarray(start, start + AT_ONCE)].map(idInKey);
  }
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
  for (let start = 0; start < tickets.length; start += TICKETS_AT_ONCE) {
    const some = tickets.slice(start, start + TICKETS_AT_ONCE);
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
