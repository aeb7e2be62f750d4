import type { Db } from '../db/database.ts';
import type { AmountMinor } from '../money/money.ts';
import { NO_MONEY, toMajor } from '../money/money.ts';
import type { Reader, Typed } from '../reading.ts';
import { moneyField, weightFields } from '../setup/forms.ts';
import type { Settings } from '../setup/settings.ts';
import { Decimal, readDecimal } from '../units/decimal.ts';
import type { MassUg } from '../units/mass.ts';
import { readPeriod } from '../web.ts';
import type { PastSales } from './past-sales.ts';
import { type EarningsFilter, listWorthKinds, type WorthItem, type WorthKind } from './queries.ts';
import type { Resale } from './worth.ts';

/** Reads which items an earnings report is about: kind, from, to (days on which they were closed), sold. */
export function readEarningsFilter(db: Db, reader: Reader): EarningsFilter {
  const kindId = reader.raw('kind').toLowerCase() === 'all' ? null : reader.id('kind');
  if (kindId !== null && !listWorthKinds(db).some(({ id }) => id === kindId)) {
    reader.problem('kind', 'There is no such kind. Choose one from the list.');
  }
  const { from, to } = readPeriod(reader);
  if (from !== null && to !== null && from > to) reader.problem('from', 'The first day cannot be after the last one.');
  const onlySold = reader.ticked('sold');
  reader.done();
  return { kindId, from, to, onlySold };
}

/** The fields of a question what a thing is worth; `kind` is asked only for a thing that is no item yet. */
export const WORTH_FIELDS = [
  'kind',
  'weight',
  'price',
  'chance',
  'fees',
  'postage',
  'saleMinutes',
  'disposal',
] as const;

/** A weight as it would be typed, with its unit where that is not the ledger's. */
function weightField({ weight_typed, weight_ug }: WorthItem, settings: Settings): string {
  if (weight_ug === null) return '';
  const { figure, unit } = weightFields(weight_typed, weight_ug, settings);
  return unit === settings.unit || /[a-z]/i.test(figure) ? figure : `${figure} ${unit}`;
}

/** What stands in the fields before anything is typed: the item's weight, and what past sales of its kind suggest. */
export function usualFields(item: WorthItem | null, sales: PastSales | null, settings: Settings): Typed {
  const weight = item === null ? '' : weightField(item, settings);
  if (sales === null) return { weight };
  return {
    weight,
    price: moneyField(sales.price, settings),
    chance: String(sales.percentSold),
    fees: moneyField(sales.fees, settings),
    postage: moneyField(sales.postage, settings),
    saleMinutes: sales.minutes === null ? '' : String(Math.round(sales.minutes)),
  };
}

/** What was asked, with what is needed to answer it. */
export interface WorthQuestion {
  readonly weightUg: MassUg;
  /** Null where no price was typed. */
  readonly resale: Resale | null;
  /** What throwing it away costs; null where nothing was typed. */
  readonly disposal: Decimal | null;
}

const MOST_MINUTES = 100_000;
const HUNDRED = 100;

function readMinutes(reader: Reader, field: string): Decimal | null {
  if (reader.raw(field) === '') return null;
  const rules = { ...reader.marks, maxDecimals: 1, what: 'number of minutes' };
  const minutes = reader.take(field, readDecimal(reader.raw(field), rules));
  if (minutes?.gt(MOST_MINUTES)) reader.problem(field, 'So many minutes cannot be right.');
  return minutes;
}

function readChance(reader: Reader): Decimal {
  const text = reader.raw('chance').replace(/\s*%$/, '');
  if (text === '')
    reader.problem('chance', 'Say how likely it sells, in percent: 100 for certainly, 50 for every other.');
  const percent = reader.take('chance', readDecimal(text, { ...reader.marks, maxDecimals: 2, what: 'chance' }));
  if (percent?.gt(HUNDRED)) reader.problem('chance', 'A chance is 100 % at most.');
  return percent?.div(HUNDRED);
}

function readResale(reader: Reader): Resale | null {
  const { currency } = reader.settings;
  const money = (field: string): Decimal => {
    const read: AmountMinor | undefined = reader.money(field, { emptyIs: NO_MONEY });
    return read === undefined ? new Decimal(0) : toMajor(read, currency);
  };
  const [fees, postage] = [money('fees'), money('postage')];
  const minutes = readMinutes(reader, 'saleMinutes');
  if (reader.raw('price') === '') return null;
  return { price: money('price'), chance: readChance(reader), fees, postage, minutes };
}

/** Reads a question; the kind is read apart, because what it suggests stands in the fields. */
export function readWorthQuestion(reader: Reader): WorthQuestion {
  const weight = reader.weight('weight');
  const resale = readResale(reader);
  const disposal = reader.raw('disposal') === '' ? null : reader.money('disposal');
  reader.done();
  const { currency } = reader.settings;
  return { weightUg: weight.massUg, resale, disposal: disposal === null ? null : toMajor(disposal, currency) };
}

/** The kind that an address names; null when it names none. A kind that there is not is a problem of the reader. */
export function readKind(reader: Reader, kinds: readonly WorthKind[]): WorthKind | null {
  const id = reader.id('kind');
  const kind = kinds.find((one) => one.id === id) ?? null;
  if (id !== null && kind === null) reader.problem('kind', 'There is no such kind. Choose one from the list.');
  return kind;
}
