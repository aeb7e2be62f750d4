import { type AmountMinor, amountMinor, NO_MONEY, roundCash, sumMoney } from '../../server/money/money.ts';
import type { PriceUnit } from '../../server/prices/compute.ts';
import { quoteAsOf } from '../../server/prices/queries.ts';
import { yardGradeNames } from '../../server/setup/queries.ts';
import { defaultSettings } from '../../server/setup/settings.ts';
import { recordTicket, replaceTicket, type TicketInput, type TicketTotals } from '../../server/tickets/acts.ts';
import { completeLine, type PrintedLine } from '../../server/tickets/compute.ts';
import type { Day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { writeForFile } from '../../server/units/write-weight.ts';
import { daysAfter, type Household, showOnScale, type YardName } from './household.ts';
import type { DemoLoad, Loading } from './loading.ts';
import type { RunPlan } from './run-plans.ts';
import { platformDivision, platformFactor, truckDivision } from './troubles.ts';

/** What the truck weighs when it is empty; a whole number of its scale's divisions. */
const TRUCK_TARE = '4180';

/** What a yard's own scale shows for some loads weighed together. */
interface YardWeighing {
  gross: string;
  tare: string;
}

function weighAtYard(house: Household, yard: YardName, loads: readonly DemoLoad[], on: Day): YardWeighing {
  const net = loads.reduce((sum, { trueLb }) => sum.plus(trueLb), new Decimal(0));
  if (loads.some(({ bin }) => bin.code === 'FE1')) {
    const shaken = house.chance.between('-6', '6');
    return { gross: showOnScale(net.plus(TRUCK_TARE).plus(shaken), truckDivision), tare: TRUCK_TARE };
  }
  // Honest within half a division: a quarter of a pound each way, besides the drift.
  const shaken = house.chance.between('-0.2', '0.2');
  const containers = loads.reduce((sum, { bin }) => sum.plus(bin.tare), new Decimal(0));
  const gross = net.times(platformFactor(yard, on)).plus(containers).plus(shaken);
  return { gross: showOnScale(gross, platformDivision), tare: showOnScale(containers, platformDivision) };
}

/** One line before the sums are done: which loads, weighed how, paid as what. */
interface LineDraft extends YardWeighing {
  code: string;
  loadIds: readonly number[];
  gradeId: number;
  deduction: string;
  /** Pounds and dollars off the quote, for the line's own price. */
  offQuote: string;
}

/** The lines of the loads, in the order of the manifest; joined buckets as one, a downgraded bin as two. */
function draftLines(house: Household, plan: RunPlan, loads: readonly DemoLoad[], on: Day): LineDraft[] {
  const joined = loads.filter(({ bin }) => plan.joined?.includes(bin.code));
  return loads.flatMap((load) => {
    const { code, gradeId } = load.bin;
    if (joined.includes(load) && load !== joined[0]) return [];
    const together = joined.includes(load) ? joined : [load];
    const weighing = weighAtYard(house, plan.yard, together, on);
    const line: LineDraft = {
      ...weighing,
      code,
      gradeId,
      loadIds: together.map(({ loadId }) => loadId),
      deduction: plan.deducted?.find(({ bin }) => bin === code)?.by ?? '0',
      offQuote: plan.offQuote?.find(({ bin }) => bin === code)?.by ?? '0',
    };
    return plan.downgrade?.bin === code ? calledLower(house, line, plan.downgrade) : [line];
  });
}

/** The yard picks some out, weighs it bare and pays it as another grade. */
function calledLower(house: Household, line: LineDraft, { lb, as }: { lb: string; as: string }): LineDraft[] {
  const gross = writeForFile(new Decimal(line.gross).minus(lb), 1);
  return [
    { ...line, gross },
    { ...line, gross: lb, tare: '0.0', gradeId: house.gradeId(as) },
  ];
}

type Priced = Pick<PrintedLine, 'price' | 'per'>;

function quotedPrice(house: Household, yard: YardName, gradeId: number, on: Day): Priced {
  const quote = quoteAsOf(house.db, house.yards[yard], gradeId, on);
  if (quote === undefined) throw new Error(`Demo Yard ${yard} has no quote for grade ${gradeId}`);
  return { price: quote.price, per: quote.per as PriceUnit };
}

/** Fills a line in as the yard's machine does: net and amount worked out from the rest. */
function print(line: Omit<PrintedLine, 'net' | 'amountMinor'>): PrintedLine {
  const completed = completeLine({ ...line, net: '', amountMinor: null }, defaultSettings.currency);
  if (!completed.ok) throw new Error(`demo ticket line ${line.lineNo}: ${completed.refusal}`);
  return completed.value.line;
}

function printLines(house: Household, plan: RunPlan, loads: readonly DemoLoad[], on: Day): PrintedLine[] {
  const names = yardGradeNames(house.db, house.yards[plan.yard]);
  const lines = draftLines(house, plan, loads, on).map((draft, index): PrintedLine => {
    const { code, offQuote, ...line } = draft;
    const { price, per } = quotedPrice(house, plan.yard, line.gradeId, on);
    const paid = writeForFile(new Decimal(price).plus(offQuote), per === 'lb' ? 2 : 0);
    const description = names.get(line.gradeId) ?? '';
    const printed = print({ ...line, lineNo: index + 1, description, unit: 'lb', price: paid, per });
    const slip = plan.wrongAmount?.bin === code ? plan.wrongAmount.cents : 0;
    return { ...printed, amountMinor: amountMinor(printed.amountMinor + slip) };
  });
  return plan.unlisted === undefined ? lines : [...lines, unlistedLine(house, plan.unlisted, lines.length + 1)];
}

function unlistedLine(house: Household, unlisted: NonNullable<RunPlan['unlisted']>, lineNo: number): PrintedLine {
  const { grade, lb, price } = unlisted;
  const paidAs = { gradeId: house.gradeId(grade), description: grade, loadIds: [], deduction: '0' };
  return print({ ...paidAs, lineNo, gross: lb, tare: '0.0', unit: 'lb', price, per: 'lb' });
}

/** The foot: North pays cash, rounded to its smallest coin; South by cheque, to the cent. */
function footOf(plan: RunPlan, lines: readonly PrintedLine[], chargesMinor: AmountMinor): TicketTotals {
  const sum = amountMinor(sumMoney(lines.map((line) => line.amountMinor)) - chargesMinor);
  const rounded = plan.yard === 'North' ? roundCash(sum, 5) : sum;
  return {
    chargesMinor,
    taxMinor: NO_MONEY,
    cashRoundingMinor: amountMinor(rounded - sum),
    totalMinor: amountMinor(rounded + (plan.wrongTotal ?? 0)),
    paidBy: plan.yard === 'North' ? 'cash' : 'cheque',
  };
}

/** Numbers go up by what other people sold in between. */
const lastNumbers = new WeakMap<Household, Record<YardName, number>>();

function nextTicketNumber(house: Household, yard: YardName): string {
  const last = lastNumbers.get(house) ?? { North: 10_380, South: 2_114 };
  last[yard] += 1 + house.chance.below(140);
  lastNumbers.set(house, last);
  return yard === 'North' ? String(last[yard]) : `S-${last[yard]}`;
}

/** Enters the ticket or tickets that the yard gave for a run, as printed. */
export function enterTickets(house: Household, plan: RunPlan, { manifestId, loadedOn, loads }: Loading): void {
  const weighed = loads.filter(({ bin }) => bin.code !== plan.forgotten?.bin);
  const isApart = ({ bin }: DemoLoad) => plan.apart?.includes(bin.code) ?? false;
  const main = weighed.filter((load) => !isApart(load));
  for (const part of [main, weighed.filter(isApart)]) {
    if (part.length === 0) continue;
    const lines = printLines(house, part === main ? plan : { ...plan, unlisted: undefined as never }, part, loadedOn);
    enterTicket(house, plan, {
      yardId: house.yards[plan.yard],
      manifestId,
      number: nextTicketNumber(house, plan.yard),
      soldOn: loadedOn,
      note: noteOf(plan),
      lines,
      totals: footOf(plan, lines, amountMinor(part === main ? (plan.chargesCents ?? 0) : 0)),
    });
  }
}

const noteOf = (plan: RunPlan): string =>
  [plan.note ?? '', ...(plan.deducted ?? []).map(({ bin, why }) => `${bin}: ${why}.`)].filter(Boolean).join(' ');

function enterTicket(house: Household, plan: RunPlan, input: TicketInput): void {
  const ledger = house.at(input.soldOn);
  const slipped = house.bins.get(plan.retyped?.bin ?? '');
  if (slipped === undefined) {
    recordTicket(ledger, input);
    return;
  }
  // The price of one line with its last two digits the wrong way round.
  const lines = input.lines.map((line) => {
    const price = line.price.replace(/(\d)(\d)$/, '$2$1');
    return line.gradeId === slipped.gradeId ? print({ ...line, price }) : line;
  });
  const id = recordTicket(ledger, { ...input, lines, totals: footOf(plan, lines, NO_MONEY) });
  replaceTicket(
    house.at(daysAfter(input.soldOn, 3)),
    id,
    input,
    'two digits of a price were typed the wrong way round',
  );
}
