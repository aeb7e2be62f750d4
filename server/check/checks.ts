import type { Ledger } from '../context.ts';
import { openDb } from '../db/open.ts';
import { brokenSeals, sealedTables } from '../db/seals.ts';
import { troubleOf } from '../db/trouble.ts';
import { itemSharesOff, layersOff } from '../layers/verify.ts';
import { loadsOf } from '../manifests/queries.ts';
import { amountMinor, roundToMinor, sumMoney, writeMoney } from '../money/money.ts';
import { valueOfMass } from '../prices/compute.ts';
import {
  type ReconciledTicket,
  reconciledTicket,
  storedGroups,
  storedShares,
  toStoredGroup,
  toStoredShares,
} from '../reconciliation/queries.ts';
import { allStandingTickets } from '../tickets/queries.ts';
import { Decimal } from '../units/decimal.ts';
import {
  accountsBelowZero,
  attachmentsAstray,
  balancesOff,
  bytesOff,
  damages,
  danglingRows,
  devicesOff,
  documentsOff,
  type FrozenLoad,
  goneWithGroups,
  gradesNotZero,
  keysTwice,
  loadedManifestIds,
  loadsOff,
  monthsOff,
  type Off,
  reversalsOff,
  settlementsOff,
  sharesOff,
  sinceOff,
  tablesOf,
  takenBackTwice,
  triggersOf,
  wordsOff,
} from './queries.ts';

/** One invariant of the ledger: what holds, and what breaks it (one sentence each; none when it holds). */
export interface Check {
  readonly name: string;
  readonly ask: (ledger: Ledger) => string[];
}

const byMass = (found: readonly Off[]): string[] => found.map(({ what, off }) => `${what} is off by ${off} µg`);
const named = (found: readonly Off[]): string[] => found.map(({ what }) => what);

const standing = ({ db, settings }: Ledger): ReconciledTicket[] =>
  allStandingTickets(db).flatMap(({ id }) => reconciledTicket(db, settings, id) ?? []);

/** Tickets whose stored groups and shares are not those that ticket and manifest give when worked out anew. */
function groupsOff(ledger: Ledger): string[] {
  const { db, settings } = ledger;
  const off = standing(ledger).filter((reconciled) => {
    const { ticket, reconciliation } = reconciled;
    const groups = reconciliation.groups.map((group, index) => toStoredGroup(ticket.id, index + 1, group));
    const shares = toStoredShares(reconciled, settings);
    return !same(groups, storedGroups(db, ticket.id)) || !same(shares, storedShares(db, ticket.id));
  });
  return [...off.map(({ ticket }) => `ticket ${ticket.number}`), ...named(goneWithGroups(ledger.db))];
}

/** Whether the rows are the same, in whatever order they and their columns come. */
const same = (due: readonly object[], stored: readonly object[]): boolean => {
  const texts = (rows: readonly object[]) => rows.map((row) => JSON.stringify(Object.entries(row).sort())).sort();
  return JSON.stringify(texts(due)) === JSON.stringify(texts(stored));
};

/** Tickets on which expected, every effect, charges, tax and cash rounding do not add up to the total, to the cent. */
function totalsOff(ledger: Ledger): string[] {
  const { currency, decimalMark } = ledger.settings;
  return standing(ledger).flatMap(({ ticket, lines, total, reconciliation }) => {
    const groups = storedGroups(ledger.db, ticket.id);
    const effects = groups.flatMap((group) => [
      group.expected_minor,
      group.scale_minor,
      group.deduction_minor,
      group.grade_minor,
      group.price_minor,
      group.rounding_minor,
      group.arithmetic_minor,
    ]);
    const { notOnManifest, chargesMinor, taxMinor, cashRoundingMinor, ticketArithmeticMinor } = reconciliation;
    const rest = [notOnManifest.amountMinor, amountMinor(-chargesMinor), taxMinor, cashRoundingMinor];
    const sum = sumMoney([...effects, ...rest, ticketArithmeticMinor]);
    const paid = total?.total_minor ?? sumMoney(lines.map((line) => line.amount_minor));
    const off = amountMinor(sum - paid);
    return off === 0 ? [] : [`ticket ${ticket.number} is off by ${writeMoney(off, currency, decimalMark)}`];
  });
}

/** Loads whose frozen value is no longer their weight at their frozen price. */
function frozenOff({ db, settings }: Ledger): string[] {
  const isOff = ({ mass_ug, price, per, expected_minor }: FrozenLoad): boolean => {
    if (mass_ug === null || expected_minor === null) return true;
    const value = price === null || per === null ? null : valueOfMass(mass_ug, { price: new Decimal(price), per });
    return roundToMinor(value ?? new Decimal(0), settings.currency) !== expected_minor;
  };
  return loadedManifestIds(db).flatMap(({ id, number }) =>
    loadsOf(db, id)
      .filter(isOff)
      .map((load) => `load ${load.label} of manifest ${number}`),
  );
}

/** Rules of the database that are missing or not as a new ledger has them. */
function rulesOff({ db }: Ledger): string[] {
  const fresh = openDb(':memory:');
  const [due, kept] = [fresh, db].map((each) => new Map([...tablesOf(each), ...triggersOf(each)]));
  fresh.close();
  return [...(due ?? [])].filter(([name, text]) => kept?.get(name) !== text).map(([name]) => name);
}

const dangling = ({ db }: Ledger): string[] =>
  danglingRows(db).map(({ table, parent, rowid }) => `${table} ${rowid ?? ''} names a ${parent} that is not there`);

/** What rows are called where the name of their table would not do. */
const ROW_WORDS: Readonly<Record<string, string>> = {
  in_weight: 'in-weight',
  bin_transfer: 'move',
  event: 'line of the trail',
  manifest_line: 'load',
  load_weighing: 'weighing of load',
  ticket_total: 'foot of ticket',
  attachment: 'photo or paper',
  attachment_bytes: 'content of photo or paper',
  attachment_preview: 'preview of photo or paper',
};

/** Rows that were changed, put in or taken out before them, by anything but Tarebook: a failing disk, another program. */
const sealsOff = ({ db }: Ledger): string[] =>
  sealedTables.flatMap((table) =>
    brokenSeals(db.sqlite, table).map((key) => `${ROW_WORDS[table] ?? table.replaceAll('_', ' ')} ${key}`),
  );

/** Every invariant of the ledger, in the order in which one rests on another. */
export const checks: readonly Check[] = [
  { name: 'the file is whole', ask: ({ db }) => damages(db) },
  { name: 'nothing names a row that is not there', ask: dangling },
  { name: 'the rules that keep documents from changing are in place', ask: rulesOff },
  { name: 'every row is as Tarebook wrote it down, and none is missing', ask: sealsOff },
  { name: "every grade's mass over all accounts is zero", ask: ({ db }) => byMass(gradesNotZero(db)) },
  { name: 'every balance is the sum of its transfers', ask: ({ db }) => byMass(balancesOff(db)) },
  { name: 'what is held is there since a day on which some of it moved', ask: ({ db }) => named(sinceOff(db)) },
  { name: 'no bin, load or sold account is below zero', ask: ({ db }) => byMass(accountsBelowZero(db)) },
  { name: 'every reversal is the mirror of what it takes back', ask: ({ db }) => named(reversalsOff(db)) },
  { name: 'every document moved the mass that it says', ask: ({ db }) => byMass(documentsOff(db)) },
  { name: 'every load is out, sold or back, and wholly so', ask: ({ db }) => byMass(loadsOff(db)) },
  {
    name: 'scale difference, deduction and sold add up to what was loaded',
    ask: ({ db }) => byMass(settlementsOff(db)),
  },
  { name: 'the loads of loaded manifests are as they were frozen', ask: frozenOff },
  { name: 'every stored reconciliation is what its ticket and manifest give', ask: groupsOff },
  { name: 'the layers of every bin are what its transfers give', ask: ({ db }) => layersOff(db) },
  { name: 'every item has its share of what tickets paid', ask: ({ db }) => itemSharesOff(db) },
  { name: 'expected, effects, charges, tax and rounding add up to every total', ask: totalsOff },
  { name: 'the shares by grade add up to their groups', ask: ({ db }) => named(sharesOff(db)) },
  { name: 'the monthly sums are the sums of the shares', ask: ({ db }) => named(monthsOff(db)) },
  { name: 'every photo and paper belongs to a document', ask: ({ db }) => named(attachmentsAstray(db)) },
  { name: 'every photo and paper has the bytes that it says', ask: ({ db }) => named(bytesOff(db)) },
  { name: 'nothing is taken back twice at once', ask: ({ db }) => named(takenBackTwice(db)) },
  { name: 'the search has the words of every document', ask: ({ db }) => named(wordsOff(db)) },
  { name: 'the devices of the trail are those that stand in it', ask: ({ db }) => named(devicesOff(db)) },
  { name: 'every request key is there once', ask: ({ db }) => named(keysTwice(db)) },
];

/** What a check finds; where the file is so damaged that it cannot even be asked, that. */
function ask(ledger: Ledger, check: Check): string[] {
  try {
    return check.ask(ledger);
  } catch (error) {
    // A damaged row may break anything that reads it. That it does is what the check found.
    return [`cannot be told: ${troubleOf(error) ?? (error instanceof Error ? error.message : String(error))}`];
  }
}

/** Asks every check on one snapshot of the ledger. */
export const checkLedger = (ledger: Ledger): { name: string; found: string[] }[] =>
  ledger.db.sqlite
    .transaction(() => checks.map((check) => ({ name: check.name, found: ask(ledger, check) })))
    .deferred();
