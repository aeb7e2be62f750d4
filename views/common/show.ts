import { type AmountMinor, writeMoney, writeSignedMoney } from '../../server/money/money.ts';
import { type PriceUnit, quoteAgeDays, writePrice } from '../../server/prices/compute.ts';
import type { Settings } from '../../server/setup/settings.ts';
import { type Day, daysBetween, writeDay } from '../../server/units/day.ts';
import { type Decimal, writeDecimal } from '../../server/units/decimal.ts';
import type { MassUg, MassUnit } from '../../server/units/mass.ts';
import { shownAmount, writeTypedWeight, writeWeight, writeWeightFigure } from '../../server/units/write-weight.ts';

export interface Frame {
  settings: Settings;
  today: Day;
  isDemo: boolean;
  /** True for whoever is not let in: the frame then says nothing of the ledger. */
  isStranger: boolean;
  /** Address of the page, to mark where one is. */
  path: string;
}

/** Writes this ledger's figures for people: its unit, its currency, its decimal mark. */
export class Show {
  readonly frame: Frame;

  constructor(frame: Frame) {
    this.frame = frame;
  }

  get settings(): Settings {
    return this.frame.settings;
  }

  get today(): Day {
    return this.frame.today;
  }

  /** "34.50 lb" */
  weight(mass: MassUg, unit: MassUnit = this.settings.unit): string {
    return writeWeight(mass, unit, this.settings.decimalMark);
  }

  /** A weight as it was typed: "34.5 lb", "1 lb 8 oz" */
  typedWeight(typed: string, unit: MassUnit, mass: MassUg): string {
    return writeTypedWeight(typed, unit, mass, this.settings.decimalMark);
  }

  /**
   * "3 lb 7 oz = 3.4375 lb", "34,5 = 34.5 lb", "1,204 = 1204 lb": how a figure was read, with all its decimals, where it
   * was typed otherwise than in plain digits with this ledger's mark; null where it was typed so.
   */
  readAs(typed: string, mass: MassUg, unit: MassUnit): string | null {
    const plain = this.settings.decimalMark === '.' ? /^\d*\.?\d*$/ : /^\d*,?\d*$/;
    if (plain.test(typed.trim())) return null;
    return `${typed} = ${this.digits(shownAmount(mass, unit).toFixed())} ${unit}`;
  }

  /** "34.50" */
  weightFigure(mass: MassUg, unit: MassUnit = this.settings.unit): string {
    return writeWeightFigure(mass, unit, this.settings.decimalMark);
  }

  /** "$442.36" */
  money(amount: AmountMinor): string {
    return writeMoney(amount, this.settings.currency, this.settings.decimalMark);
  }

  /** "+$0.76", "−$3.15" */
  signedMoney(amount: AmountMinor): string {
    return writeSignedMoney(amount, this.settings.currency, this.settings.decimalMark);
  }

  /** "$3.60 per lb" */
  price(price: string | Decimal, per: PriceUnit): string {
    return writePrice(price, per, this.settings.currency, this.settings.decimalMark);
  }

  /** A plain figure: "1,204.50" */
  figure(value: Decimal, decimals: number): string {
    return writeDecimal(value, decimals, this.settings.decimalMark);
  }

  /** Digits as a yard printed them, with this ledger's decimal mark. */
  digits(printed: string): string {
    return printed.replace('.', this.settings.decimalMark);
  }

  /** "8 Mar 2025" */
  day(day: Day): string {
    return writeDay(day);
  }

  /** "today", "yesterday", "12 days ago" */
  age(day: Day): string {
    const days = daysBetween(day, this.today);
    if (days === 0) return 'today';
    if (days === 1) return 'yesterday';
    return days > 0 ? `${days} days ago` : `in ${-days} days`;
  }

  /** Whether a quote seen that day should be looked up again. */
  isStale(seenOn: Day): boolean {
    return quoteAgeDays(seenOn, this.today) > this.settings.staleQuoteDays;
  }
}
