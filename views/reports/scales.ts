import type { Month, ReportFilter } from '../../server/reports/compute.ts';
import { type HomeStretch, openShifts, type WatchedScale } from '../../server/scales/whose.ts';
import { choiceField, type FormState } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { filterProblems, monthLabel, printedOn } from './filters.ts';
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
  /** Of those watched, the ones of the yard that was chosen. */
  shown: readonly WatchedScale[];
  /** Names of the yards where nothing was weighed in these months. */
  yardsWithoutSale: readonly string[];
}

/** Whose scale is off: what the sales say of the scales at home, and of each yard's scale sale after sale. */
export function scaleReportPage(show: Show, parts: ScaleReportPage): SafeHtml {
  const hasProblems = Object.keys(parts.state.problems).length > 0;
  return page({
    title: 'Your scales and theirs',
    show,
    body: html`<div class="report"><div class="head">
  <h1>Your scales and theirs</h1>
  ${hasProblems ? null : html`<p class="lead">${spanSentence(show, parts)}${printedOn(show)}</p>`}
</div>
${filterProblems(parts)}
${filterForm(show, parts)}
${hasProblems ? null : report(show, parts)}
</div>`,
  });
}

function spanSentence(show: Show, { filter: { from, to } }: ScaleReportPage): string {
  return from === null || to === null
    ? 'All sales.'
    : `Sales from ${monthLabel(show, from)} to ${monthLabel(show, to)}.`;
}

function filterForm(show: Show, parts: ScaleReportPage): SafeHtml {
  const { state, usualMonths } = parts;
  const months = parts.months.map((month) => ({ value: month, label: monthLabel(show, month) }));
  const yards = parts.yards.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<form class="filters" method="get" action="/reports/scales">
  ${choiceField({ name: 'yard', label: 'Sale after sale at', choices: yards, none: 'All yards' }, state)}
  ${choiceField({ name: 'from', label: 'From', choices: months, none: `${usualMonths} months` }, state)}
  ${choiceField({ name: 'to', label: 'To', choices: months, none: 'newest sale' }, state)}
  <button>Show</button>
</form>`;
}

function report(show: Show, parts: ScaleReportPage): SafeHtml {
  const { stretches, watched, shown, yardsWithoutSale } = parts;
  const open = openShifts(watched);
  if (stretches.length === 0) {
    return html`<p>Nothing was weighed here and at a yard in these months. Scales can be compared once a
  <a href="/tickets">ticket</a> is entered.</p>`;
  }
  return html`${
    yardsWithoutSale.length === 0
      ? null
      : html`<p class="hint">Nothing was weighed in these months at ${yardsWithoutSale.join(', ')}, so nothing can be said there.</p>`
  }
${inShort(show, parts)}
<h2 id="at-home">Your scales against the yards</h2>
<p class="hint">What each yard’s scale showed of what you weighed, all sales together. Your <a href="/setup/scales">checks with
  a known weight</a> say it best; this is what the sales say.</p>
${stretches.map((stretch, index) => stretchSection(show, stretch, index, open))}
<h2 id="watched">Each yard’s scale, sale after sale</h2>
<p class="hint">A small difference that lasts shows here before it shows anywhere else.</p>
${shown.map((scale, index) => watchedSection(show, scale, parts, index))}
${explanations()}`;
}

const explanations = (): SafeHtml => html`<h2>How this is worked out</h2>
<ul>
  <li>A difference can come from either scale, or from the way: water that dried, dirt that fell off. Nobody is blamed by it. The
    local weights-and-measures office can check a yard’s scale.</li>
  <li>Likely between: if sales go on as these did, the long-run difference lies in this range in about 95 of 100 cases. It
    takes three loads.</li>
  <li>Your own scale is named when every yard differs the same way and by about as much; a yard is named when it stands apart
    and the others agree with you.</li>
  <li>Sale after sale: each difference is held against what the two scales may be off by. Small ones are forgiven, and what is
    left is added up, for less and for more on its own. A sum beyond the dashed line has lasted too long to be chance. But a
    scale keeps its own small error for months, so a steady difference is found also where both scales are within their
    tolerances: it says steady, not wrong.</li>
  <li>The sums begin anew after they passed the line, and when a scale at home was adjusted. Each load counts on its own, or
    the loads that were weighed as one line; of each yard the newest forty tickets are looked at.</li>
</ul>
<details class="more"><summary>The methods by their names</summary>
<p class="hint">Ratio of sums with its standard error and Student’s t (ratio estimator); two-sided tabular CUSUM of the differences in
  standard uncertainties with k = 0.5 and h = 5, which signals about once in 465 values where each is new chance; moving average
  that gives each load a fifth (EWMA); uncertainties by the GUM, tolerances by NIST Handbook 44, section 2.20.</p></details>`;
