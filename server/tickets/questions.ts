import type { Ledger } from '../context.ts';
import type { Load } from '../manifests/queries.ts';
import { type AmountMinor, negateMoney, roundCash, sumMoney } from '../money/money.ts';
import type { UnitPrice } from '../prices/compute.ts';
import { quoteAsOf } from '../prices/queries.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import type { ReconciledTicket } from '../reconciliation/queries.ts';
import { findYard } from '../setup/queries.ts';
import { type Day, readDay } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import type { MassUg } from '../units/mass.ts';
import { type TicketInput, type TicketTotals, totalsOfLines } from './acts.ts';
import { auditTicket, type Finding } from './audit.ts';
import { connectLoadsAndLines, type PrintedLine, toPrintedLine } from './compute.ts';
import type { TicketEntry } from './entry.ts';
import { readLines, readTotals } from './forms.ts';
import { standingTicketsNumbered } from './queries.ts';

interface Audited {
  yardId: number;
  loadedOn: Day | null;
  soldOn: Day;
  number: string;
  lines: readonly PrintedLine[];
  loads: readonly Load[];
  totals: TicketTotals;
  /** Whether another standing ticket with this number counts as entered before. */
  isBefore: (ticketId: number) => boolean;
}

/** The yard's last quotes, as of the day of sale, for the grades that lines were paid as. */
function lastQuotes({ db }: Ledger, { yardId, soldOn, lines }: Audited): Map<number, UnitPrice> {
  const quotes = new Map<number, UnitPrice>();
  for (const gradeId of new Set(lines.map((line) => line.gradeId))) {
    const quote = quoteAsOf(db, yardId, gradeId, soldOn);
    if (quote !== undefined) quotes.set(gradeId, { price: new Decimal(quote.price), per: quote.per });
  }
  return quotes;
}

function audit(ledger: Ledger, audited: Audited): Finding[] {
  const { db, settings, clock } = ledger;
  const yard = findYard(db, audited.yardId);
  const sameNumber = standingTicketsNumbered(db, audited.yardId, audited.number);
  return auditTicket({
    currency: settings.currency,
    decimalMark: settings.decimalMark,
    unit: yard?.unit ?? settings.unit,
    today: clock.today(),
    soldOn: audited.soldOn,
    loadedOn: audited.loadedOn,
    number: audited.number,
    numbersBefore: sameNumber.filter(({ id }) => audited.isBefore(id)).map(({ number }) => number),
    cashStepMinor: yard?.cash_step_minor ?? 1,
    ...audited.totals,
    lines: audited.lines,
    loads: audited.loads.map(({ id, label, mass_ug }) => ({ id, label, massUg: mass_ug as MassUg })),
    lastQuotes: lastQuotes(ledger, audited),
  });
}

/** What to ask about a ticket that was read whole, before it is saved. */
export const auditEntry = (ledger: Ledger, entry: TicketEntry, input: TicketInput): Finding[] =>
  audit(ledger, {
    yardId: input.yardId,
    loadedOn: entry.manifest?.loaded_on ?? null,
    soldOn: input.soldOn,
    number: input.number,
    lines: input.lines,
    loads: entry.openLoads,
    totals: input.totals ?? totalsOfLines(input.lines),
    isBefore: (id) => id !== entry.replaced?.id,
  });

/** These have their own places on the page of a stored ticket: nothing is left there to choose. */
const ASKED_AT_ENTRY: readonly Finding['code'][] = ['line_without_load', 'load_without_line'];

/** The findings of a stored ticket: its own figures again, as they were printed. */
export function auditStored(ledger: Ledger, { ticket, lines, loads, total }: ReconciledTicket): Finding[] {
  const printed = lines.map(toPrintedLine);
  const findings = audit(ledger, {
    yardId: ticket.yard_id,
    loadedOn: ticket.loaded_on,
    soldOn: ticket.sold_on,
    number: ticket.number,
    lines: printed,
    loads,
    totals:
      total === null
        ? totalsOfLines(printed)
        : {
            chargesMinor: total.charges_minor,
            taxMinor: total.tax_minor,
            cashRoundingMinor: total.cash_rounding_minor,
            totalMinor: total.total_minor,
            paidBy: total.paid_by,
          },
    isBefore: (id) => id < ticket.id,
  });
  return findings.filter(({ code }) => !ASKED_AT_ENTRY.includes(code));
}

/** What a form that is still being typed comes to. */
export interface RunningAudit {
  linesRead: number;
  linesInAll: number;
  /** Σ amounts of the lines that can be read so far. */
  linesMinor: AmountMinor;
  /** Lines less charges plus tax, and after cash rounding to the yard's step; null until every line is read. */
  beforeRoundingMinor: AmountMinor | null;
  roundedMinor: AmountMinor | null;
  cashStepMinor: number;
  findings: Finding[];
}

/** Findings that only a finished form can have. */
const OF_THE_WHOLE: readonly Finding['code'][] = ['total_sum', 'cash_rounding'];

/**
 * Audits a form while it is typed. What is unreadable or unfinished is left out, and so is every question about loads
 * that an unfinished line may still pay for: half a split line is no slip.
 */
export function auditWhileTyping(ledger: Ledger, entry: TicketEntry, typed: Typed): RunningAudit {
  const readings = readLines(entry, typed, ledger.settings);
  const lines = readings.flatMap(({ completed }) => (completed === null ? [] : [completed.line]));
  const isWhole = lines.length === readings.length;
  const reader = new Reader(typed, ledger.settings);
  const totals = readTotals(reader, entry, readings);
  const isFinished = isWhole && !reader.hasProblems;
  const settled = settledLoads(entry, readings);
  const isSettled = (line: PrintedLine): boolean => line.loadIds.every((id) => settled.has(id));
  const waiting = new Set(lines.filter((line) => !isSettled(line)).map(({ lineNo }) => lineNo));
  const soldOn = readDay(typed.soldOn ?? '');
  const found = audit(ledger, {
    yardId: entry.yard?.id ?? 0,
    loadedOn: soldOn.ok ? (entry.manifest?.loaded_on ?? null) : null,
    soldOn: soldOn.ok ? soldOn.value : ledger.clock.today(),
    number: (typed.number ?? '').slice(0, 200),
    lines: lines.map((line) => (waiting.has(line.lineNo) ? { ...line, loadIds: [] } : line)),
    loads: entry.openLoads.filter(({ id }) => settled.has(id)),
    totals: isFinished ? totals : totalsOfLines(lines),
    isBefore: (id) => id !== entry.replaced?.id,
  });
  const isAsked = ({ code, lineNo }: Finding): boolean =>
    (isFinished || !OF_THE_WHOLE.includes(code)) &&
    !(code === 'line_without_load' && lineNo !== null && waiting.has(lineNo)) &&
    !(code === 'load_without_line' && !isWhole);
  const soFar = comesTo(entry, lines, { totals, problems: reader.problems, isWhole });
  return { ...soFar, linesInAll: readings.length, findings: found.filter(isAsked) };
}

/** Open loads whose every line can be read already, so that their weights can be compared. */
function settledLoads(entry: TicketEntry, readings: ReturnType<typeof readLines>): Set<number> {
  const open = new Set(entry.openLoads.map(({ id }) => id));
  const lines = readings.map(({ loadIds }, index) => ({
    lineNo: index + 1,
    loadIds: loadIds.filter((id) => open.has(id)),
  }));
  const whole = connectLoadsAndLines(entry.openLoads, lines).filter(({ lineNos }) =>
    lineNos.every((lineNo) => readings[lineNo - 1]?.completed != null),
  );
  return new Set(whole.flatMap(({ loadIds }) => loadIds));
}

interface ReadSoFar {
  totals: TicketTotals;
  problems: Problems;
  isWhole: boolean;
}

function comesTo(entry: TicketEntry, lines: readonly PrintedLine[], { totals, problems, isWhole }: ReadSoFar) {
  const linesMinor = sumMoney(lines.map((line) => line.amountMinor));
  const cashStepMinor = entry.yard?.cash_step_minor ?? 1;
  const canSum = isWhole && problems.charges === undefined && problems.tax === undefined;
  const beforeRoundingMinor = canSum ? sumMoney([linesMinor, negateMoney(totals.chargesMinor), totals.taxMinor]) : null;
  const isRounded = totals.paidBy === 'cash' && cashStepMinor > 1;
  const roundedMinor = beforeRoundingMinor !== null && isRounded ? roundCash(beforeRoundingMinor, cashStepMinor) : null;
  return { linesRead: lines.length, linesMinor, beforeRoundingMinor, roundedMinor, cashStepMinor };
}
