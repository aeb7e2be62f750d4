import { localTime } from '../clock.ts';
import { fullness } from '../ledger/compute.ts';
import type { BinOnHand } from '../ledger/queries.ts';
import { type AmountMinor, sumMoney } from '../money/money.ts';
import { convertPrice, type PriceUnit, type UnitPrice, worthOfMass } from '../prices/compute.ts';
import type { Quote } from '../prices/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { writeDay } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';

/** A bin with its value at the best quote, as the overview shows it. */
export interface ValuedBin {
  bin: BinOnHand;
  /** Null when no yard has quoted the grade by weight, or at a price that cannot be right. */
  valueMinor: AmountMinor | null;
  bestQuote: Quote | null;
  fullness: number | null;
}

interface PricedQuote {
  quote: Quote;
  unitPrice: UnitPrice;
}

/** Whether one price by weight is above another, whatever units they are in. */
function isDearer(a: UnitPrice, b: UnitPrice): boolean {
  if (a.per === b.per) return a.price.gt(b.price);
  const [first, second] = [convertPrice(a, 'kg'), convertPrice(b, 'kg')];
  return first !== null && second !== null && first.gt(second);
}

/** The highest of the newest quotes by grade, whatever unit it is in; prices by the piece have no value by weight. */
export function bestQuotes(quotes: readonly Quote[]): Map<number, PricedQuote> {
  const best = new Map<number, PricedQuote>();
  for (const quote of quotes) {
    if (quote.per === 'each') continue;
    const unitPrice: UnitPrice = { price: new Decimal(quote.price), per: quote.per as PriceUnit };
    const known = best.get(quote.grade_id);
    if (known === undefined || isDearer(unitPrice, known.unitPrice)) best.set(quote.grade_id, { quote, unitPrice });
  }
  return best;
}

/** What each bin would fetch at the best current quote, rounded half away from zero to the minor unit. */
export function valueBins(bins: readonly BinOnHand[], quotes: readonly Quote[], settings: Settings): ValuedBin[] {
  const byGrade = bestQuotes(quotes);
  return bins.map((bin) => {
    const best = byGrade.get(bin.grade_id);
    return {
      bin,
      bestQuote: best?.quote ?? null,
      valueMinor: best === undefined ? null : worthOfMass(bin.mass_ug, best.unitPrice, settings.currency),
      fullness: fullness(bin.mass_ug, bin.full_mark_ug),
    };
  });
}

export const totalValue = (bins: readonly ValuedBin[]): AmountMinor =>
  sumMoney(bins.flatMap(({ valueMinor }) => (valueMinor === null ? [] : [valueMinor])));

/** A clock may be put right by some minutes at any time, and two computers may have kept this ledger. */
const LET_PASS_MS = 60 * 60_000;

/**
 * What to tell the person when this computer's clock is behind the ledger by more than an hour: one of the two is wrong,
 * and what is entered now may get a wrong day. Null when all is well.
 * @param newest moment of the newest entry
 */
export function clockTrouble(now: string, newest: string | null): string | null {
  if (newest === null || Date.parse(newest) - Date.parse(now) <= LET_PASS_MS) return null;
  const write = (instant: string) => {
    const { day, time } = localTime(instant);
    return `${writeDay(day)}, ${time}`;
  };
  return (
    `This computer’s clock says ${write(now)}, and the ledger has an entry that was made on ${write(newest)}. Set the ` +
    'clock right before you weigh in, or days will be wrong. If it is right, it was ahead when that entry was made: ' +
    'look in the trail for days to correct.'
  );
}
