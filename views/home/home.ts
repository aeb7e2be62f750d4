import type { ValuedBin } from '../../server/home/compute.ts';
import type { OpenLoad } from '../../server/home/queries.ts';
import { gradeFamilies } from '../../server/ledger/families.ts';
import type { Manifest } from '../../server/manifests/queries.ts';
import type { AmountMinor } from '../../server/money/money.ts';
import type { Quote } from '../../server/prices/queries.ts';
import type { CheckSeen } from '../../server/scales/compute.ts';
import type { LastChecked } from '../../server/scales/queries.ts';
import type { Show } from '../common/show.ts';
import { binTag } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { failedTexts } from '../setup/check-words.ts';

export interface HomeParts {
  /** Whether the ledger that is open lacks what was written into it last. */
  lacksEntries: boolean;
  bins: ValuedBin[];
  totalMinor: AmountMinor;
  /** The newest of every yard for every grade. */
  quotes: Quote[];
  drafts: Manifest[];
  /** Loaded, and no ticket yet. */
  loaded: Manifest[];
  /** Loads that went to a yard and are on no ticket. */
  openLoads: OpenLoad[];
  hasYards: boolean;
  /** Where phones find this computer since its address changed; null when that was read. */
  newHomeUrl: string | null;
  /** What is odd about this computer's clock; null when all is well. */
  clockTrouble: string | null;
  /** What is wrong with the backups, in a sentence; null where all is well. */
  backupReminder: string | null;
  /** The scales that bins are weighed on and that should be checked with a known weight. */
  dueScales: LastChecked[];
  /** Those whose newest check found more than their tolerance, not adjusted since. */
  failedScales: { scale: LastChecked; failed: CheckSeen }[];
}

/** What is in the bins, what it is worth, and what to do next. */
export function homePage(show: Show, home: HomeParts): SafeHtml {
  const steps = nextSteps(show, home);
  return page({
    title: 'Bins',
    show,
    body: html`<div class="head">
  <h1>In the bins</h1>
  <p class="total"><b>${show.money(home.totalMinor)}</b> at the best quotes${staleShare(show, home)}</p>
  <p class="acts"><a class="button primary" href="/weigh-in">Weigh in</a> <a class="button" href="/manifests/new">New manifest</a></p>
</div>
${steps.length === 0 ? null : html`<section class="next"><h2>What to do next</h2><ul>${steps}</ul></section>`}
${home.bins.length === 0 ? html`<p>No bins yet. <a href="/setup/bins">Name your first bins</a>.</p>` : tags(show, home)}`,
  });
}

/** The open bins as tags, family by family. */
function tags(show: Show, { bins }: HomeParts): SafeHtml {
  const inOrder = gradeFamilies.flatMap((family) => bins.filter(({ bin }) => bin.family === family));
  return html`<ul class="tags">
${inOrder.map(({ bin, bestQuote, valueMinor, fullness }) =>
  binTag(show, {
    code: bin.code,
    gradeName: bin.grade_name,
    family: bin.family,
    place: bin.place,
    massUg: bin.mass_ug,
    valueMinor,
    isQuoted: bestQuote !== null,
    fullness,
    sinceOn: bin.since_on,
  }),
)}
</ul>`;
}

function nextSteps(show: Show, home: HomeParts): SafeHtml[] {
  const { bins, quotes, drafts, loaded, openLoads } = home;
  const full = bins.filter(({ fullness }) => fullness !== null && fullness >= 1);
  const unpriced = bins.filter(({ bin, bestQuote }) => bin.mass_ug > 0 && bestQuote === null);
  const inUse = new Set(bins.filter(({ bin }) => bin.mass_ug > 0).map(({ bin }) => bin.grade_id));
  const stale = quotes.filter((quote) => inUse.has(quote.grade_id) && show.isStale(quote.seen_on));
  return [
    ...(home.lacksEntries ? [lackStep] : []),
    ...(home.clockTrouble === null ? [] : [html`<li>${home.clockTrouble} <a href="/trail">To the trail</a>.</li>`]),
    ...setUpSteps(home),
    ...addressStep(home),
    ...backupStep(home),
    ...loaded.map(
      (manifest) => html`<li><a href="/tickets/new?manifest=${manifest.id}">Enter the ticket</a> for manifest
        ${manifest.number} to ${manifest.yard_name}.</li>`,
    ),
    ...openLoads.map(
      (load) => html`<li>Load ${load.label} (${load.bin_code}) went to ${load.yard_name} and is on no ticket:
        <a href="/manifests/${load.manifest_id}">bring it back or find it</a>.</li>`,
    ),
    ...drafts.map(
      (manifest) => html`<li>Manifest ${manifest.number} for ${manifest.yard_name} is a draft:
        <a href="/manifests/${manifest.id}">weigh and load it</a>.</li>`,
    ),
    ...full.map(({ bin }) => html`<li>${bin.code} is full: plan to sell it, or begin another bin.</li>`),
    ...(unpriced.length === 0
      ? []
      : [
          html`<li>No price for ${[...new Set(unpriced.map(({ bin }) => bin.grade_name))].join(', ')}:
        <a href="/prices">write one down</a>.</li>`,
        ]),
    ...(stale.length === 0
      ? []
      : [
          html`<li>${stale.length === 1 ? 'One quote' : `${stale.length} quotes`} for what is in the bins
        ${stale.length === 1 ? 'is' : 'are'} older than ${show.settings.staleQuoteDays} days: <a href="/prices">ask again</a>.</li>`,
        ]),
    ...home.failedScales.map(({ scale, failed }) => failedStep(show, scale, failed)),
    ...home.dueScales.map((scale) => dueStep(show, scale)),
  ];
}

const lackStep = html`<li><b>This ledger lacks its newest entries.</b> Before anything else is written down:
  <a href="/last-entry">what happened, and what to do</a>.</li>`;

const backupStep = ({ backupReminder }: HomeParts): SafeHtml[] =>
  backupReminder === null ? [] : [html`<li>${backupReminder} <a href="/setup/backups">To the backups</a>.</li>`];

const addressStep = ({ newHomeUrl }: HomeParts): SafeHtml[] =>
  newHomeUrl === null
    ? []
    : [
        html`<li>This computer has another address on the home network now, ${newHomeUrl}/:
        <a href="/setup/devices">what to do about it</a>.</li>`,
      ];

function failedStep(show: Show, scale: LastChecked, failed: CheckSeen): SafeHtml {
  const { found, allowed } = failedTexts(show, scale, failed);
  return html`<li>${scale.name} was <b>${found}</b> when it was checked on ${show.day(failed.checkedOn)}, more than its
    tolerance of ${allowed}: <a href="/setup/scales/${scale.id}#checks">adjust it, or have it looked at</a>.</li>`;
}

function dueStep(show: Show, { id, name, last_checked_on: day }: LastChecked): SafeHtml {
  const last = day === null ? 'was not checked yet' : `was last checked on ${show.day(day)}, ${show.age(day)}`;
  return html`<li>${name} ${last}: <a href="/setup/scales/${id}#check">check it with a known weight</a>.</li>`;
}

const setUpSteps = ({ bins, hasYards, quotes }: HomeParts): SafeHtml[] => [
  ...(bins.length > 0 ? [] : [html`<li><a href="/setup/bins">Name your bins</a>: one for each grade you sort.</li>`]),
  ...(hasYards ? [] : [html`<li><a href="/setup/yards">Name the yards</a> you sell to.</li>`]),
  ...(!hasYards || quotes.length > 0 ? [] : [html`<li><a href="/prices">Write down a price board</a>.</li>`]),
];

/** Says how many of the bins are worth what an old quote says. */
function staleShare(show: Show, { bins }: HomeParts): string {
  const held = bins.filter(({ bin, bestQuote }) => bin.mass_ug > 0 && bestQuote !== null);
  const stale = held.filter(({ bestQuote }) => bestQuote !== null && show.isStale(bestQuote.seen_on)).length;
  if (stale === 0) return '';
  return stale === 1 ? ', one of them stale' : `, ${stale} of them stale`;
}
