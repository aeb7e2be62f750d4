import type { Ledger } from '../../context.ts';
import { earningsByKind } from '../../earnings/by-kind.ts';
import { readEarningsFilter } from '../../earnings/forms.ts';
import { closedEarnings } from '../../earnings/queries.ts';
import { roundToMinor, writeMoneyForFile } from '../../money/money.ts';
import { Reader, type Typed } from '../../reading.ts';
import { Decimal } from '../../units/decimal.ts';
import { exportFile } from './export.ts';

const FILE_DECIMALS = 4;
const figure = (value: Decimal | null): string =>
  value === null ? '' : value.toFixed(FILE_DECIMALS, Decimal.ROUND_HALF_UP).replace(/^-(?=0\.0+$)/, '');

/** The items of the page's own filter; all closed ones when the address names none. */
const itemsOf = ({ db, settings, clock }: Ledger, typed: Typed) =>
  closedEarnings(db, settings, clock.today(), readEarningsFilter(db, new Reader(typed, settings)));

const hours = (seconds: number): Decimal => new Decimal(seconds).div(3600);

export const earnings = exportFile({
  name: 'earnings',
  sentence: 'What each kind of item earned, for an hour of work, and its likely range.',
  columns: ['kind', 'items', 'timed_items', 'hours', 'money', 'still_in_bins', 'costs', 'per_hour', 'low', 'high'],
  texts: ['kind'],
  rows(ledger, { typed }) {
    const { currency } = ledger.settings;
    return earningsByKind(itemsOf(ledger, typed), currency).map((row) => ({
      kind: row.kindName,
      items: String(row.items),
      timed_items: String(row.timed),
      hours: figure(hours(row.seconds)),
      money: writeMoneyForFile(row.moneyMinor, currency),
      still_in_bins: writeMoneyForFile(row.restMinor, currency),
      costs: writeMoneyForFile(row.costsMinor, currency),
      per_hour: figure(row.perHour),
      low: figure(row.low),
      high: figure(row.high),
    }));
  },
});

export const itemEarnings = exportFile({
  name: 'item-earnings',
  sentence: 'What each closed item earned: tickets, sales for reuse, what is still in bins, costs and hours.',
  columns: [
    'item',
    'kind',
    'name',
    'closed_on',
    'status',
    'tickets',
    'reuse',
    'still_in_bins',
    'costs',
    'money',
    'hours',
    'per_hour',
  ],
  texts: ['kind', 'name'],
  rows(ledger, { typed }) {
    const { currency } = ledger.settings;
    return itemsOf(ledger, typed).map(({ item, ...one }) => ({
      item: String(item.id),
      kind: item.kindName,
      name: item.name,
      closed_on: item.closedOn ?? '',
      status: item.status,
      tickets: writeMoneyForFile(one.scrapMinor, currency),
      reuse: writeMoneyForFile(item.reuseMinor, currency),
      still_in_bins: writeMoneyForFile(one.restMinor, currency),
      costs: writeMoneyForFile(one.costsMinor, currency),
      money: writeMoneyForFile(one.moneyMinor, currency),
      hours: figure(hours(item.seconds)),
      per_hour: one.perHour === null ? '' : writeMoneyForFile(roundToMinor(one.perHour, currency), currency),
    }));
  },
});
