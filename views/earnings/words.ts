import { type GradePrice, likelyPrice } from '../../server/earnings/compute.ts';
import type { Option, OptionKey } from '../../server/earnings/worth.ts';
import { type AmountMinor, roundToMinor } from '../../server/money/money.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/** More than this is no amount that a household deals with: a time near nothing or a mistyped price. */
const MOST_MAJOR = 1_000_000_000;

/** An amount in major units with its fraction, to the minor unit: "$12.40". */
export const major = (show: Show, amount: Decimal): string =>
  amount.abs().gt(MOST_MAJOR) ? 'beyond reckoning' : show.money(roundToMinor(amount, show.settings.currency));

/** "$12.40 to $18.10", from figures of statistics. */
export const majorRange = (show: Show, low: number, high: number): string =>
  `${major(show, new Decimal(low))} to ${major(show, new Decimal(high))}`;

/** "1 minute", "38 minutes", "4.5 minutes" */
export function minutesSaid(show: Show, minutes: Decimal): string {
  const rounded = minutes.toDecimalPlaces(minutes.lt(10) ? 1 : 0, Decimal.ROUND_HALF_UP);
  return `${show.figure(rounded, rounded.decimalPlaces())} ${rounded.eq(1) ? 'minute' : 'minutes'}`;
}

export const minutesOf = (seconds: number): Decimal => new Decimal(seconds).div(60);

/** "1 item", "7 items" */
export const countOf = (count: number, one: string, many = `${one}s`): string => `${count} ${count === 1 ? one : many}`;

/** Options as something to do, within a sentence. */
const DOING: Readonly<Record<OptionKey, string>> = {
  whole: 'sell it whole',
  'as is': 'sell it as it is',
  coarse: 'take it apart, coarse',
  fine: 'take it apart, fine',
  rule: 'take it apart',
  discard: 'throw it away',
};
export const doing = (key: OptionKey): string => DOING[key];

const NAMES: Readonly<Record<OptionKey, string>> = {
  whole: 'Sell it whole, for reuse',
  'as is': 'Sell it to a yard as it is',
  coarse: 'Take it apart, coarse: to pieces that yards take',
  fine: 'Take it apart, fine: to clean metal',
  rule: 'Take it apart, by rule of thumb',
  discard: 'Throw it away',
};
export const optionName = ({ key }: Option): string => NAMES[key];

/** The price that is reckoned with, and where it comes from. */
export function likelySaid(show: Show, price: GradePrice): SafeHtml {
  const { price: amount, per } = likelyPrice(price);
  const stale = show.isStale(price.seenOn) ? html`, <span class="stale">stale</span>` : null;
  const basis =
    price.realisation === null
      ? 'the quote itself, none sold yet'
      : `${show.figure(price.realisation.times(100), 0)} % of the quote ${show.price(price.price, per)}`;
  return html`${show.price(amount.toDecimalPlaces(4, Decimal.ROUND_HALF_UP), per)}<small>${basis}, ${price.yardName}, ${show.age(price.seenOn)}${stale}</small>`;
}

/** "$12.40 sold, about $3.10 still in bins" */
export const soldAndRest = (
  show: Show,
  { soldMinor, restMinor }: { soldMinor: AmountMinor; restMinor: AmountMinor },
): string => `${show.money(soldMinor)} sold${restMinor === 0 ? '' : `, about ${show.money(restMinor)} still in bins`}`;
