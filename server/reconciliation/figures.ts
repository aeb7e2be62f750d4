import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, NO_MONEY, subtractMoney, toMajor } from '../money/money.ts';
import type { PriceUnit, UnitPrice } from '../prices/compute.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUnit, toWeight } from '../units/mass.ts';
import type { ReconciliationGroup, TicketReconciliation } from './compute.ts';
import { chargesOfGroups } from './shares.ts';

/** A group with what it came to for the person who loaded it. */
export interface GroupFigures {
  readonly group: ReconciliationGroup;
  /** Unit to write its weights in: its own, or the yard's when it counts pieces. */
  readonly unit: MassUnit;
  /** Its share of the ticket's charges, by what it was paid. */
  readonly chargeMinor: AmountMinor;
  /** (Paid less its share of charges) / home weight; null for a load that is not on the ticket. */
  readonly realised: UnitPrice | null;
  /** (Home weight less paid weight) / home weight; null where weights were not compared. */
  readonly shrinkage: Decimal | null;
}

const massUnitOf = (unit: PriceUnit, otherwise: MassUnit): MassUnit => (unit === 'each' ? otherwise : unit);

/**
 * Realised price and shrinkage of each group of a ticket.
 * @param yardUnit for a group that counts pieces
 */
export function figuresOfGroups(
  reconciliation: TicketReconciliation,
  currency: Currency,
  yardUnit: MassUnit,
): GroupFigures[] {
  const charges = chargesOfGroups(reconciliation);
  return reconciliation.groups.map((group, index) => {
    const chargeMinor = charges[index] ?? NO_MONEY;
    const unit = massUnitOf(group.unit, yardUnit);
    const home = toWeight(group.homeUg, unit).amount;
    const earned = toMajor(subtractMoney(group.paidMinor, chargeMinor), currency);
    const isWeighed = group.isOnTicket && group.comparedByWeight;
    return {
      group,
      unit,
      chargeMinor,
      realised: group.isOnTicket ? { price: earned.div(home), per: unit } : null,
      shrinkage: isWeighed ? new Decimal(group.homeUg - group.paidUg).div(group.homeUg) : null,
    };
  });
}
