import { localTime } from '../clock.ts';
import { fullness } from '../ledger/compute.ts';
import type { BinOnHand } from '../ledger/queries.ts';
import { type AmountMinor, sumMoney } from '../money/money.ts';
import { type PriceUnit, valueOfMass, worthOfMass } from '../prices/compute.ts';
import type { Quote } from '../prices/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { writeDay } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { massUg } from '../units/mass.ts';

/** A bin with its value at the best quote, as the overview shows it. */
export interface ValuedBin {
  bin: BinOnHand;
  /** Null when no yard has quoted the grade by weight, or at a price that cannot be right. */
  valueMinor: AmountMinor | null;
  bestQuote: Quote | null;
  fullness: number | null;
}

const PROBE_UG = massUg(1_000_000_000);

const worth = (quote: Quote): Decimal =>
  valueOfMass(PROBE_UG, { price: new Decimal(quote.price), per: quote.per as PriceUnit }) ?? new Decimal(-1);

/** The highest of the newest quotes for a grade, whatever unit it is in; prices by the piece have no value by weight. */
export function bestQuoteFor(gradeId: number, quotes: readonly Quote[]): Quote | null {
  const byWeight = quotes.filter((quote) => quote.grade_id === gradeId && quote.per !== 'each');
  return byWeight.reduce<Quote | null>(
    (best, quote) => (best === null || worth(quote).gt(worth(best)) ? quote : best),
    null,
  );
}

/** What each bin would fetch at the best current quote, rounded half away from zero to the minor unit. */
export function valueBins(bins: readonly BinOnHand[], quotes: readonly Quote[], settings: Settings): ValuedBin[] {
  return bins.map((bin) => {
    const bestQuote = bestQuoteFor(bin.grade_id, quotes);
    const unitPrice = bestQuote && { price: new Decimal(bestQuote.price), per: bestQuote.per as PriceUnit };
    return {
      bin,
      bestQuote,
      valueMinor: unitPrice && worthOfMass(bin.mass_ug, unitPrice, settings.currency),
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
