import { type Currency, minorDigits } from '../money/currencies.ts';
import { type AmountMinor, amountMinor, NO_MONEY, sumMoney } from '../money/money.ts';
import { splitWhole } from '../money/split.ts';
import { valueOfMass } from '../prices/compute.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, massUg, NO_MASS, sumMass } from '../units/mass.ts';
import { wholeNumber } from '../units/too-large.ts';
import { quoteOf, type ReconciledLoad, type ReconciliationGroup, sum, type TicketReconciliation } from './compute.ts';

/** Whether a load was quoted so that it has a value: by weight, or by the piece with what the manifest expected. */
const hasValue = (load: ReconciledLoad): boolean =>
  quoteOf(load) !== null && (load.per !== 'each' || load.expectedMinor > 0);

/** What of a group belongs to one grade of bin. */
export interface GradeShare {
  readonly gradeId: number;
  readonly homeUg: MassUg;
  readonly yardUg: MassUg;
  readonly paidUg: MassUg;
  /** Quoted value in millionths of a minor unit, so that Σ quoted / Σ weight keeps its decimals. */
  readonly quotedMicro: number;
  /** Home weight of the loads that had a quote; a quoted price is quotedMicro over this. */
  readonly quotedUg: MassUg;
  readonly paidMinor: AmountMinor;
}

/** Quoted value of loads in millionths of a minor unit, half away from zero; by piece, what the manifest expected. */
function quotedMicroOf(loads: readonly ReconciledLoad[], currency: Currency): number {
  const values = loads.map((load) => {
    const quote = quoteOf(load);
    if (quote === null) return new Decimal(0);
    const major = valueOfMass(load.massUg, quote);
    return major === null ? new Decimal(load.expectedMinor) : major.times(new Decimal(10).pow(minorDigits(currency)));
  });
  const micro = sum(values).times(1_000_000).toDecimalPlaces(0, Decimal.ROUND_HALF_UP);
  return wholeNumber(micro.toNumber(), 'millionths of a minor unit');
}

/**
 * A group's weights and money by grade of the bin, in the order of its gradeIds. Yard and paid weights follow the home
 * weight; money follows the expected value, or the home weight when nothing was expected. Every share sums to the
 * group exactly (largest remainder).
 * @param loads at least the group's own; others are left aside
 */
export function shareGroup(
  group: ReconciliationGroup,
  loads: readonly ReconciledLoad[],
  currency: Currency,
): GradeShare[] {
  const own = loads.filter((load) => group.loadIds.includes(load.id));
  const byGrade = group.gradeIds.map((gradeId) => own.filter((load) => load.gradeId === gradeId));
  const homeUg = byGrade.map((members) => sumMass(members.map((load) => load.massUg)));
  const expected = byGrade.map((members) => sumMoney(members.map((load) => load.expectedMinor)));
  const byHome = homeUg.map((mass) => new Decimal(mass));
  const byExpected = expected.some((amount) => amount > 0) ? expected.map((amount) => new Decimal(amount)) : byHome;
  const yardUg = splitWhole(group.yardUg, byHome);
  const paidUg = splitWhole(group.paidUg, byHome);
  const paidMinor = splitWhole(group.paidMinor, byExpected);
  return group.gradeIds.map((gradeId, index) => ({
    gradeId,
    homeUg: homeUg[index] ?? NO_MASS,
    yardUg: massUg(yardUg[index] ?? 0),
    paidUg: massUg(paidUg[index] ?? 0),
    quotedMicro: quotedMicroOf(byGrade[index] ?? [], currency),
    quotedUg: sumMass((byGrade[index] ?? []).filter(hasValue).map((load) => load.massUg)),
    paidMinor: amountMinor(paidMinor[index] ?? 0),
  }));
}

/**
 * Charges over parts of what was paid, to the minor unit. A part that was paid nothing, or that cost money, bears none;
 * when no part was paid anything the shares are equal.
 */
export function shareCharges(chargesMinor: AmountMinor, paid: readonly AmountMinor[]): AmountMinor[] {
  const weights = paid.map((amount) => new Decimal(Math.max(0, amount)));
  return splitWhole(chargesMinor, weights).map(amountMinor);
}

/**
 * A ticket's charges over its groups, in order, by what each was paid. They are paid for the whole ticket, so money with
 * no load behind it bears its part too; a load that is on no line was not sold and bears none.
 */
export function chargesOfGroups({ groups, notOnManifest, chargesMinor }: TicketReconciliation): AmountMinor[] {
  const sold = groups.filter((group) => group.isOnTicket);
  const elsewhere = notOnManifest.lineNos.length === 0 ? [] : [notOnManifest.amountMinor];
  const shares = shareCharges(chargesMinor, [...sold.map((group) => group.paidMinor), ...elsewhere]);
  return groups.map((group) => shares[sold.indexOf(group)] ?? NO_MONEY);
}
