import type { SetUpCounts } from '../../server/setup/queries.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

interface Step {
  isDone: boolean;
  path: string;
  name: string;
  why: string;
}

/** Everything that is set up once: a check list until it is done, then a list of doors. */
export function setUpPage(show: Show, counts: SetUpCounts, isLedgerEmpty: boolean): SafeHtml {
  const steps = listSteps(counts, isLedgerEmpty);
  const open = steps.filter((step) => !step.isDone);
  return page({
    title: 'Set-up',
    show,
    body: html`<h1>Set-up</h1>
${
  open.length === 0
    ? null
    : html`<section class="next"><h2>${open.length === steps.length ? 'To begin with' : 'Still to do'}</h2>
<ol class="steps">${steps.map(stepLine)}</ol></section>`
}
<dl class="doors">
${doors(show, counts).map(
  ([path, name, what]) => html`<div><dt><a href="${path}">${name}</a></dt><dd>${what}</dd></div>`,
)}
</dl>`,
  });
}

const stepLine = ({ isDone, path, name, why }: Step) => html`<li class="${isDone ? 'is-done' : ''}">
  <a href="${path}">${name}</a> <small>${isDone ? 'done' : why}</small></li>`;

/** In the order in which a new ledger is set up. */
const listSteps = (counts: SetUpCounts, isLedgerEmpty: boolean): Step[] => [
  {
    isDone: counts.grades > 0,
    path: isLedgerEmpty ? '/' : '/setup/grades',
    name: 'Grades',
    why: 'begin with the starter list, or type in your own',
  },
  {
    isDone: counts.containers > 0,
    path: '/setup/containers',
    name: 'Containers',
    why: 'weigh each bucket or tub once, empty; then its tare is taken off by itself',
  },
  {
    isDone: counts.openBins > 0,
    path: '/setup/bins',
    name: 'Bins',
    why: 'one for each grade you sort; only those you use now',
  },
  { isDone: counts.scales > 0, path: '/setup/scales', name: 'Scales', why: 'which scales you weigh on' },
  { isDone: counts.yards > 0, path: '/setup/yards', name: 'Yards', why: 'who buys' },
  {
    isDone: counts.anyQuote > 0,
    path: counts.yards === 0 ? '/setup/yards' : '/prices/board',
    name: 'First price board',
    why: counts.yards === 0 ? 'name a yard first' : 'then every bin shows what it would fetch',
  },
];

const doors = ({ settings }: Show, counts: SetUpCounts): readonly (readonly [string, string, string])[] => [
  [
    '/setup/ledger',
    'This ledger',
    `Weights in ${settings.unit}, money in ${settings.currency}, quotes go stale after ${settings.staleQuoteDays} days, scales are due for a check after ${settings.scaleCheckDays}.`,
  ],
  [
    '/setup/grades',
    `Grades (${counts.grades})`,
    'What yards price separately: names, families, how to recognise them.',
  ],
  ['/setup/bins', `Bins (${counts.openBins})`, 'The buckets, tubs and corners, each for one grade.'],
  [
    '/setup/containers',
    `Containers (${counts.containers})`,
    'What holds material on the scale, and what it weighs empty.',
  ],
  [
    '/setup/scales',
    `Scales (${counts.scales})`,
    'Your own scales: division, capacity, accuracy class, and checks with a known weight.',
  ],
  [
    '/setup/yards',
    `Yards (${counts.yards})`,
    'Who buys: the unit of their tickets, their scale, their names for grades.',
  ],
  [
    '/setup/item-kinds',
    `Kinds of items (${counts.itemKinds})`,
    'What sort of thing is picked up: its cautions, what a yard takes it as, rules of thumb.',
  ],
  ['/setup/cautions', 'Cautions', 'What can hurt, the usual precaution, and where each is published.'],
  ['/prices', 'Prices', 'Price boards, and what each grade was quoted at over time.'],
  ['/setup/devices', 'Devices', 'The passphrase, the address for phones at home, pairing, and who is signed in.'],
  [
    '/setup/backups',
    'Backups',
    'Copies of the ledger: when the last one was made, where they go, and how to restore one.',
  ],
  ['/import', 'Import', 'Bring grades, bins, yards, prices, weights and tickets from files.'],
  ['/trail', 'Trail', 'What was done in this ledger, when and from which device, and how to put it back.'],
  ['/setup/files', 'Files', 'Everything in this ledger as files, to keep or to take elsewhere.'],
];
