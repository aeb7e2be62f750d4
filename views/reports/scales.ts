import type { Month, ReportFilter } from '../../server/reports/compute.ts';
import type { HomeStretch, WatchedScale } from '../../server/scales/whose.ts';
import { choiceField, type FormState } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { filterProblems, monthLabel } from './filters.ts';
import { stretchSection } from './scales-at-home.ts';
import { inShort } from './scales-in-short.ts';
import { watchedSection } from './scales-watched.ts';

export interface ScaleReportPage {
  state: FormState;
  filter: ReportFilter;
  yards: readonly { id: number; name: string }[];
  /** Months to choose from, newest first. */
  months: readonly Month[];
  /** Months in a report that names none. */
  usualMonths: number;
  stretches: readonly HomeStretch[];
  watched: readonly WatchedScale[];
  /** Names of the yards where nothing was weighed in these months. */
  yardsWithoutSale: readonly string[];
}

/** Whose scale is off: what the sales say of the scales at home, and of each yard's scale sale after sale. */
export function scaleReportPage(show: Show, parts: ScaleReportPage): SafeHtml {
  const hasProblems = Object.keys(parts.state.problems).length > 0;
  return page({
    title: 'Whose scale is off?',
    show,
    body: html`<div class="report"><div class="head">
  <h1>Whose scale is off?</h1>
  ${hasProblems ? null : html`<p class="lead">${spanSentence(show, parts)}</p>`}
</div>
${filterProblems(parts)}
${filterForm(show, parts)}
${hasProblems ? null : report(show, parts)}
</div>`,
  });
}

function spanSentence(show: Show, { filter, yards }: ScaleReportPage): string {
  const yard = yards.find(({ id }) => id === filter.yardId)?.name ?? 'All yards';
  const { from, to } = filter;
  return from === null || to === null ? `${yard}.` : `${yard}, ${monthLabel(show, from)} to ${monthLabel(show, to)}.`;
}

function filterForm(show: Show, parts: ScaleReportPage): SafeHtml {
  const { state, usualMonths } = parts;
  const months = parts.months.map((month) => ({ value: month, label: monthLabel(show, month) }));
  const yards = parts.yards.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<form class="filters" method="get" action="/reports/scales">
  ${choiceField({ name: 'yard', label: 'Yard', choices: yards, none: 'All yards' }, state)}
  ${choiceField({ name: 'from', label: 'From', choices: months, none: `${usualMonths} months` }, state)}
  ${choiceField({ name: 'to', label: 'To', choices: months, none: 'newest sale' }, state)}
  <button>Show</button>
</form>`;
}

function report(show: Show, parts: ScaleReportPage): SafeHtml {
  const { stretches, watched, yardsWithoutSale } = parts;
  if (stretches.length === 0) {
    return html`<p>Nothing was weighed here and at a yard in these months. Scales can be compared once a
  <a href="/tickets">ticket</a> is entered.</p>`;
  }
  return html`${
    yardsWithoutSale.length === 0
      ? null
      : html`<p class="hint">Nothing was weighed in these months at ${yardsWithoutSale.join(', ')}, so nothing can be said there.</p>`
  }
${inShort(show, stretches, watched)}
<h2 id="at-home">Your scales against the yards</h2>
<p class="hint">What each yard’s scale showed of what you weighed, all sales together. Your <a href="/setup/scales">checks with
  a known weight</a> say it best; this is what the sales say.</p>
${stretches.map((stretch, index) => stretchSection(show, stretch, index))}
<h2 id="watched">Each yard’s scale, sale after sale</h2>
<p class="hint">A small difference that lasts shows here before it shows anywhere else.</p>
${watched.map((scale, index) => watchedSection(show, scale, watched, index))}
${explanations()}`;
}

const explanations = (): SafeHtml => html`<h2>How this is worked out</h2>
<ul>
  <li>Likely between: if sales go on as these did, the long-run difference lies in this range in about 95 of 100 cases
    (ratio of sums, Student’s t). It takes three sales.</li>
  <li>Your own scale is named when every yard differs the same way and by about as much; a yard is named when it stands apart
    and the others agree with you.</li>
  <li>Sale after sale: each difference is divided by what the two scales together may be off by chance (their standard
    uncertainty), half of one is forgiven, and the rest is added up, for less and for more apart (a tabular CUSUM with k = 0.5
    and h = 5). If the errors were new at each sale, honest scales would pass 5 about once in 465 sales. But a scale keeps its
    own small error for months, so a steady difference is found also where both scales are within their tolerances: it says
    steady, not wrong.</li>
  <li>The sums begin anew after they passed 5, and when a scale at home was adjusted.</li>
  <li>A sale here is one load, or the loads that were weighed as one line. The newest forty tickets of each yard are looked
    at.</li>
  <li>A difference can come from either scale, or from the way: water that dried, dirt that fell off. Nobody is blamed by it. The
    local weights-and-measures office can check a yard’s scale.</li>
</ul>`;
