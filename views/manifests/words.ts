import type { LoadQuote } from '../../server/manifests/compute.ts';
import type { ManifestOutlook, ShownLoad } from '../../server/manifests/pages.ts';
import type { Manifest } from '../../server/manifests/queries.ts';
import type { ManifestStatus } from '../../server/manifests/table.ts';
import type { AmountMinor } from '../../server/money/money.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/** A status as the list's filter offers it. */
export const statusWords: Record<ManifestStatus, string> = {
  draft: 'draft',
  loaded: 'loaded, no ticket yet',
  sold: 'sold',
  returned: 'brought back or set aside',
};

/** Where a manifest stands, in words. */
export function statusOf({ status, loaded_on: loadedOn }: Pick<Manifest, 'status' | 'loaded_on'>): string {
  if (status !== 'returned') return statusWords[status];
  return loadedOn === null ? 'set aside' : 'brought back';
}

/** The day of a manifest: when it was loaded, or when it was begun. */
export const dayOf = (show: Show, { loaded_on: loadedOn, drafted_on: draftedOn }: Manifest): string =>
  loadedOn === null ? `begun ${show.day(draftedOn)}` : show.day(loadedOn);

/** A quote with the day it was seen, marked with a word when it is stale. */
export function quoteText(show: Show, quote: LoadQuote | null, { marksStale = true } = {}): SafeHtml {
  if (quote === null) return html`no quote`;
  const isStale = marksStale && show.isStale(quote.seen_on);
  return html`${show.price(quote.price, quote.per)} <small>seen ${show.day(quote.seen_on)}</small>${
    isStale ? html` <span class="stale">stale</span>` : null
  }`;
}

/** What past sales say of a manifest that is not sold yet; an estimate, and said to be one. */
export function outlookText(show: Show, outlook: ManifestOutlook | null): SafeHtml | null {
  if (outlook === null) return null;
  const { shrinkageUg, expectedMinor } = outlook;
  const lost =
    shrinkageUg > 0 ? `about ${show.weight(shrinkageUg)} will not be paid for` : 'all of the weight will be paid for';
  return html`By past sales of these grades, here or at any yard, ${lost}: reckon with about <b>${show.money(expectedMinor)}</b>.
  <a href="/reports/shrinkage">How that is worked out</a>`;
}

/** An expected value, or why there is none. */
export function expectedText(show: Show, quote: LoadQuote | null, expectedMinor: AmountMinor | null): string {
  if (expectedMinor !== null) return show.money(expectedMinor);
  if (quote === null) return '–';
  return quote.per === 'each' ? 'by the piece' : 'too large: check the price';
}

/** How a load's weight came about. */
export function weighedText(show: Show, { load, reading, massUg }: ShownLoad): string {
  if (load.weighed === 'book') return 'book weight';
  const { unit } = load;
  if (reading === null) return `weighed: ${show.typedWeight(load.net_typed, unit, massUg)}`;
  const gross = show.typedWeight(load.gross_typed, unit, reading.grossUg);
  const tare = load.tare_typed === '0' ? '' : ` − ${show.typedWeight(load.tare_typed, unit, reading.tareUg)}`;
  const where = [load.container_name, load.scale_name].filter((name) => name !== null).join(', ');
  return `weighed: ${gross}${tare}${where === '' ? '' : ` (${where})`}`;
}
