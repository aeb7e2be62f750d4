import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import type { Weighing } from '../../server/ledger/compute.ts';
import { type Day, day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type MassUg, toMassUg } from '../../server/units/mass.ts';
import { writeForFile } from '../../server/units/write-weight.ts';
import { Chance } from './random.ts';
import { benchDivision, benchFactor, floorDivision } from './troubles.ts';

export type YardName = 'North' | 'South';

/** A bin as the demo knows it: beside its id, what truly is in it, which no ledger can know. */
export interface DemoBin {
  id: number;
  code: string;
  grade: string;
  gradeId: number;
  scale: 'bench' | 'floor';
  containerId: number | null;
  /** Digits of the container's tare in pounds, '0' when the material is weighed bare. */
  tare: string;
  trueLb: Decimal;
}

/** The nearest whole division, half away from zero, as the figures a scale shows. */
export const showOnScale = (weight: Decimal, division: Decimal): string =>
  writeForFile(
    weight.div(division).toDecimalPlaces(0, Decimal.ROUND_HALF_UP).times(division),
    division.decimalPlaces(),
  );

/** Pounds in digits as a mass. */
export const lb = (digits: string): MassUg => toMassUg({ amount: new Decimal(digits), unit: 'lb' });

/** The invented household: its ledger, its bins with what is truly in them, its scales and its luck. */
export class Household {
  readonly db: Db;
  readonly chance = new Chance(20_250_104);
  readonly bins = new Map<string, DemoBin>();
  readonly grades = new Map<string, number>();
  readonly yards: Record<YardName, number> = { North: 0, South: 0 };
  readonly scales = { bench: 0, floor: 0 };
  /** Minutes since the day's first act, so that the trail shows one act after another. */
  #minute = 0;
  #today: Day | null = null;

  constructor(db: Db) {
    this.db = db;
  }

  /** The ledger as it is used at that moment: the clock stands on the day, some minutes after the act before. */
  at(on: Day, who = 'this computer'): Ledger {
    this.#minute = on === this.#today ? this.#minute + 3 : 0;
    this.#today = on;
    const clockTime = new Date(Date.parse(`${on}T14:00:00.000Z`) + this.#minute * 60_000);
    return openLedger(this.db, fixedClock(on, clockTime.toISOString()), who);
  }

  bin(code: string): DemoBin {
    const bin = this.bins.get(code);
    if (bin === undefined) throw new Error(`the demo has no bin ${code}`);
    return bin;
  }

  gradeId(name: string): number {
    const id = this.grades.get(name);
    if (id === undefined) throw new Error(`the demo has no grade ${name}`);
    return id;
  }

  /**
   * What the home scale of a bin shows for a true net weight in the bin's container. Tares were taken on the same
   * scale, so an error of the scale is an error of the net alone.
   */
  weigh({ scale, tare }: DemoBin, trueNetLb: Decimal, on: Day, container = tare): Weighing {
    const factor = scale === 'bench' ? benchFactor(on) : new Decimal(1);
    const division = scale === 'bench' ? benchDivision : floorDivision;
    const gross = showOnScale(trueNetLb.times(factor).plus(container), division);
    return { grossTyped: gross, tareTyped: container, unit: 'lb', grossUg: lb(gross), tareUg: lb(container) };
  }
}

/** What happens, day by day; acts of one day in the order they were put down. */
export class Agenda {
  readonly #entries: { on: Day; act: (on: Day) => void }[] = [];

  on(date: string, act: (on: Day) => void): void {
    this.#entries.push({ on: day(date), act });
  }

  run(): void {
    // The sort keeps the order of entries of the same day.
    for (const { on, act } of this.#entries.sort((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0))) act(on);
  }
}

/** The day so many days later. */
export const daysAfter = (on: Day, days: number): Day =>
  day(new Date(Date.parse(`${on}T00:00:00Z`) + days * 86_400_000).toISOString().slice(0, 10));
