import type { Ledger } from '../context.ts';
import { findManifest, type Load, loadsOf, type Manifest } from '../manifests/queries.ts';
import { type AmountMinor, writeMoneyForFile } from '../money/money.ts';
import { type PriceUnit, readPrice } from '../prices/compute.ts';
import { quoteAsOf } from '../prices/queries.ts';
import type { Typed } from '../reading.ts';
import { findYard, type Grade, listGrades, listYards, type Yard, yardGradeNames } from '../setup/queries.ts';
import { Decimal } from '../units/decimal.ts';
import type { MassUnit } from '../units/mass.ts';
import { idIn } from '../web.ts';
import { workedOutOf } from './compute.ts';
import { type LineRules, type LowerGrade, loadsNamed, type TypedLine, typedLines, withLines } from './line-changes.ts';
import {
  findTicket,
  type ManifestAtYard,
  manifestsAtYards,
  type Ticket,
  ticketLines,
  ticketPayingFor,
  ticketTotal,
} from './queries.ts';

/** What a ticket is entered against: the manifest it belongs to, its loads, and the lists of the form. */
export interface TicketEntry {
  /** Undefined when the form names none that exists. */
  manifest: Manifest | undefined;
  yard: Yard | undefined;
  /** Every load of the manifest. */
  loads: Load[];
  /** Those that this ticket may pay for: not back in their bin, and on no other ticket. */
  openLoads: Load[];
  grades: Grade[];
  /** The yard's own names for grades, by grade id. */
  yardNames: Map<number, string>;
  /** The ticket whose place this one takes. */
  replaced: Ticket | null;
  manifests: ManifestAtYard[];
  yards: Yard[];
}

/** What a form is entered against, from its fields `manifest`, `yard` and `replaces`. */
export function ticketEntry({ db }: Ledger, typed: Typed): TicketEntry {
  const manifest = findManifest(db, idIn(typed.manifest));
  const yardId = typed.yard ? idIn(typed.yard) : (manifest?.yard_id ?? 0);
  const replaced = typed.replaces ? (findTicket(db, idIn(typed.replaces)) ?? null) : null;
  const loads = manifest === undefined ? [] : loadsOf(db, manifest.id);
  const isOpen = (load: Load): boolean => {
    const paying = ticketPayingFor(db, load.id);
    return load.load_return_id === null && (paying === undefined || paying.id === replaced?.id);
  };
  return {
    manifest,
    yard: findYard(db, yardId),
    loads,
    openLoads: loads.filter(isOpen),
    grades: listGrades(db),
    yardNames: yardGradeNames(db, yardId),
    replaced,
    manifests: manifestsAtYards(db),
    yards: listYards(db),
  };
}

const NO_PAPER = { description: '', gross: '', tare: '', deduction: '', net: '', amount: '' } as const;

/** The form as it opens: one line for each load that waits for its money, at the quote its manifest was loaded with. */
export function startingTicket({ clock, settings }: Ledger, entry: TicketEntry): Typed {
  const unit: MassUnit = entry.yard?.unit ?? settings.unit;
  const lines = entry.openLoads.map(
    (load): TypedLine => ({
      ...NO_PAPER,
      paidAs: String(load.grade_id),
      loads: load.label,
      unit,
      price: (load.price ?? '').replace('.', settings.decimalMark),
      per: load.per ?? unit,
    }),
  );
  const head = {
    manifest: String(entry.manifest?.id ?? ''),
    yard: String(entry.yard?.id ?? ''),
    number: '',
    soldOn: entry.manifest?.loaded_on ?? clock.today(),
    paidBy: 'cash',
  };
  const empty: TypedLine = { ...NO_PAPER, paidAs: '', loads: '', unit, price: '', per: unit };
  return withLines(head, lines.length === 0 ? [empty] : lines);
}

/**
 * A stored ticket as its form would have been typed, to put another one in its place. What the ticket did not print is
 * left empty again, so that it follows when a figure beside it is put right.
 */
export function typedOfTicket({ db, settings }: Ledger, ticket: Ticket, loads: readonly Load[]): Typed {
  const figure = (digits: string): string => digits.replace('.', settings.decimalMark);
  const money = (amount: AmountMinor): string => figure(writeMoneyForFile(amount, settings.currency));
  const total = ticketTotal(db, ticket.id);
  const labels = (ids: readonly number[]): string =>
    loads
      .filter(({ id }) => ids.includes(id))
      .map(({ label }) => label)
      .join(',');
  const lines = ticketLines(db, ticket.id).map(
    (line): TypedLine => ({
      description: line.description,
      paidAs: String(line.grade_id),
      loads: labels(line.loadIds),
      gross: figure(line.gross),
      tare: figure(line.tare),
      deduction: figure(line.deduction),
      net: figure(line.net),
      unit: line.unit,
      price: figure(line.price),
      per: line.per,
      amount: money(line.amount_minor),
      ...Object.fromEntries(workedOutOf(line).map((name) => [name, ''])),
    }),
  );
  const foot =
    total === undefined
      ? { paidBy: 'cash' }
      : {
          charges: money(total.charges_minor),
          tax: money(total.tax_minor),
          cashRounding: total.worked_out === '' ? money(total.cash_rounding_minor) : '',
          total: money(total.total_minor),
          paidBy: total.paid_by,
        };
  const head = {
    manifest: String(ticket.manifest_id),
    yard: String(ticket.yard_id),
    replaces: String(ticket.id),
    number: ticket.number,
    soldOn: ticket.sold_on,
    note: ticket.note,
  };
  return withLines({ ...head, ...foot }, lines);
}

/** Where a line begins that was split off because part of a load was called lower. */
const lowerGradeOf =
  ({ db, settings }: Ledger, { grades, manifest, yard }: TicketEntry): LowerGrade =>
  (paidAs) => {
    const lowerId = grades.find((grade) => String(grade.id) === paidAs.trim())?.falls_back_to_id ?? null;
    if (lowerId === null || !manifest?.loaded_on || yard === undefined) return null;
    const quote = quoteAsOf(db, yard.id, lowerId, manifest.loaded_on);
    return {
      paidAs: String(lowerId),
      price: (quote?.price ?? '').replace('.', settings.decimalMark),
      per: quote?.per ?? yard.unit,
    };
  };

/** How new lines begin at this yard. */
export const lineRulesOf = (ledger: Ledger, entry: TicketEntry): LineRules => ({
  lowerGrade: lowerGradeOf(ledger, entry),
  unit: entry.yard?.unit ?? ledger.settings.unit,
});

export interface LineQuote {
  price: string;
  per: PriceUnit;
}

/**
 * What was quoted for the grade a line is paid as, as it stood on the day of loading: for a load that is paid as its
 * own grade the price it was loaded with.
 */
function quoteOfLine({ db }: Ledger, { manifest, yard, loads }: TicketEntry, line: TypedLine): LineQuote | null {
  const gradeId = idIn(line.paidAs.trim());
  const own = loadsNamed(loads, line.loads).found.find((load) => load.grade_id === gradeId);
  if (own?.price != null && own.per !== null) return { price: own.price, per: own.per };
  if (!manifest?.loaded_on || yard === undefined) return null;
  return quoteAsOf(db, yard.id, gradeId, manifest.loaded_on) ?? null;
}

/** The quote of each line of the form where it is not the price that stands there already; else null. */
export function quotesBeside(ledger: Ledger, entry: TicketEntry, typed: Typed): (LineQuote | null)[] {
  return typedLines(typed).map((line) => {
    const quote = quoteOfLine(ledger, entry, line);
    const stands = readPrice(line.price, { decimalMark: ledger.settings.decimalMark });
    const isSame =
      stands.ok && quote !== null && line.per === quote.per && new Decimal(stands.value.digits).eq(quote.price);
    return isSame ? null : quote;
  });
}
