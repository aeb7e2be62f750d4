import type { Caution } from '../items/cautions.ts';
import type { Currency } from '../money/currencies.ts';
import type { AmountMinor } from '../money/money.ts';
import { type PriceUnit, worthOfMass } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';
import { Decimal, type DecimalMark } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { readWeight } from '../units/read-weight.ts';

/** Labels of loads in order: A to Z, then AA, AB and so on. */
export function loadLabel(index: number): string {
  const last = String.fromCharCode(65 + (index % 26));
  return index < 26 ? last : loadLabel(Math.floor(index / 26) - 1) + last;
}

/** The names of the fields of one load on a draft's form. */
export const loadFields = (lineId: number) =>
  ({
    gross: `gross-${lineId}`,
    tare: `tare-${lineId}`,
    container: `container-${lineId}`,
    unit: `unit-${lineId}`,
    scale: `scale-${lineId}`,
    empties: `empties-${lineId}`,
  }) as const;

/** The next number after those in use: one more than the largest that is a plain number. */
export function nextNumber(used: readonly string[]): string {
  const plain = used.filter((number) => /^\d{1,9}$/.test(number)).map((number) => Number.parseInt(number, 10));
  return String(Math.max(0, ...plain) + 1);
}

/** A yard's price for a load, with the day it was seen. */
export interface LoadQuote {
  price: string;
  per: PriceUnit;
  seen_on: Day;
}

/**
 * What a load should bring at a quote, half away from zero to the minor unit; null without a quote, and for a price by
 * the piece, which says nothing about a weight, and when it comes to more than can be right.
 */
export function expectedOf(mass: MassUg, quote: LoadQuote | null, currency: Currency): AmountMinor | null {
  return quote && worthOfMass(mass, { price: new Decimal(quote.price), per: quote.per }, currency);
}

/** Beyond this share of the book weight a load-out weight is asked about: it may be a slip, or another unit. */
const FAR_FROM_BOOK = 0.15;

/** How a load-out weight stands to the book weight of its bin. */
export interface BookComparison {
  /** Load-out weight less book weight. */
  differenceUg: MassUg;
  isFar: boolean;
}

export function compareWithBook(mass: MassUg, bookUg: MassUg): BookComparison {
  const differenceUg = massUg(mass - bookUg);
  // Far is a question to the person, not a sum on paper, so a plain number will do.
  return { differenceUg, isFar: Math.abs(differenceUg) > Math.abs(bookUg) * FAR_FROM_BOOK };
}

export interface Reading {
  grossUg: MassUg;
  tareUg: MassUg;
}

/**
 * The reading and the tare behind a load-out weight, from what was typed. Null for a book weight, for a net from a
 * file, and where the text does not fit the weight any more because the ledger's decimal mark was changed since.
 */
export function readingOf(
  load: { gross_typed: string; unit: MassUnit; mass_ug: MassUg | null },
  decimalMark: DecimalMark,
): Reading | null {
  if (load.gross_typed === '' || load.mass_ug === null) return null;
  const gross = readWeight(load.gross_typed, { unit: load.unit, decimalMark });
  if (!gross.ok || gross.value.massUg < load.mass_ug) return null;
  return { grossUg: gross.value.massUg, tareUg: massUg(gross.value.massUg - load.mass_ug) };
}

/** A load with what decides on its cautions. */
export interface CautionedLoad {
  label: string;
  grade_name: string;
  massUg: MassUg;
  /** The kinds of the items that its material came out of, each with the cautions that go on to the yard. */
  items: readonly { kindName: string; cautions: readonly Caution[] }[];
}

/** A caution on a sheet, with the loads it is about and, where it comes with the material, what that came out of. */
export interface LoadCaution {
  caution: Caution;
  labels: string[];
  outOf: string[];
}

/** The cautions that belong to some loads: for their grades, for heavy ones, and for what their material came out of. */
export const cautionsFor = (cautions: readonly Caution[], loads: readonly CautionedLoad[]): LoadCaution[] =>
  cautions
    .filter(({ onSheet }) => onSheet !== '')
    .map((caution) => {
      const items = (load: CautionedLoad) => load.items.filter((item) => item.cautions.includes(caution));
      return {
        caution,
        labels: loads.filter((load) => isOfLoad(caution, load) || items(load).length > 0).map((load) => load.label),
        outOf: [...new Set(loads.flatMap(items).map(({ kindName }) => kindName))],
      };
    })
    .filter(({ labels }) => labels.length > 0);

const isOfLoad = ({ appliesTo: { gradeNamed, heavierThanUg } }: Caution, load: CautionedLoad): boolean =>
  (gradeNamed?.test(load.grade_name) ?? false) || (heavierThanUg !== undefined && load.massUg > heavierThanUg);
