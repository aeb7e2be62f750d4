import type { Typed } from '../../server/reading.ts';
import type { Month, PeriodLength, ReportFilter } from '../../server/reports/compute.ts';
import type { Day } from '../../server/units/day.ts';
import type { Decimal } from '../../server/units/decimal.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import type { LineSeries } from '../charts/line-chart.ts';
import { type Choice, choiceField, type FormState, massUnitChoices } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

interface Named {
  id: number;
  name: string;
}

/** What every report page is built around: its filter as typed and as understood, and what there is to choose from. */
export interface ReportFrame {
  path: string;
  state: FormState;
  filter: ReportFilter;
  grades: readonly Named[];
  yards: readonly Named[];
  /** Months to choose from, newest first. */
  months: readonly Month[];
  /** Months in a report that names none. */
  usualMonths: number;
}

const FIELDS = ['by', 'grade', 'yard', 'split', 'from', 'to', 'unit'] as const;

/** The same report with some of its filter changed, as an address. */
export function reportAddress(
  { path, state }: Pick<ReportFrame, 'path' | 'state'>,
  changes: Readonly<Record<string, string>> = {},
): string {
  const query = new URLSearchParams();
  for (const name of [...FIELDS, 'page']) {
    const value = changes[name] ?? (name === 'page' ? '' : state.typed[name]) ?? '';
    if (value !== '') query.set(name, value);
  }
  return query.size === 0 ? path : `${path}?${query}`;
}

/** The rows of the page as a file. Every part of the filter is written out, so that the file cannot mean others. */
export function fileAddress({ state, filter }: ReportFrame, name: string): string {
  return reportAddress(
    { path: `/export/${name}.csv`, state },
    {
      by: filter.by,
      split: filter.splitYards ? 'yard' : 'no',
      from: filter.from ?? '',
      to: filter.to ?? '',
    },
  );
}

/** "Mar 2025" */
export const monthLabel = (show: Show, month: Month): string => show.day(`${month}-01` as Day).slice(2);

/** "Mar 2025", "Q1 2025", "2025" */
export function periodLabel(show: Show, period: string, by: PeriodLength): string {
  if (by === 'month') return monthLabel(show, period as Month);
  return by === 'quarter' ? `${period.slice(5)} ${period.slice(0, 4)}` : period;
}

const asChoices = (named: readonly Named[]): Choice[] =>
  named.map(({ id, name }) => ({ value: String(id), label: name }));

const BY: readonly Choice[] = [
  { value: 'month', label: 'month' },
  { value: 'quarter', label: 'quarter' },
  { value: 'year', label: 'year' },
];

/** The address as its choices show it: what it leaves out or says in another way is the choice that it comes to. */
function asChosen(typed: Typed): Typed {
  const chosen = (name: string, meaningNone: string) =>
    typed[name]?.trim().toLowerCase() === meaningNone ? '' : (typed[name] ?? '');
  const by = typed.by || 'month';
  return { ...typed, by, grade: chosen('grade', 'all'), yard: chosen('yard', 'all'), split: chosen('split', 'no') };
}

/** The choices above a report. Sent by GET, so that the address holds them and a page can be kept as a bookmark. */
function filterForm(show: Show, frame: ReportFrame): SafeHtml {
  const { grades, yards, usualMonths } = frame;
  const months = frame.months.map((month) => ({ value: month, label: monthLabel(show, month) }));
  const state = { ...frame.state, typed: asChosen(frame.state.typed) };
  return html`<form class="filters" method="get" action="${frame.path}">
  ${choiceField({ name: 'grade', label: 'Grade', choices: asChoices(grades), none: 'All grades' }, state)}
  ${choiceField({ name: 'yard', label: 'Yard', choices: asChoices(yards), none: 'All yards' }, state)}
  ${choiceField({ name: 'split', label: 'Yards', choices: [{ value: 'yard', label: 'each apart' }], none: 'together' }, state)}
  ${choiceField({ name: 'from', label: 'From', choices: months, none: `${usualMonths} months` }, state)}
  ${choiceField({ name: 'to', label: 'To', choices: months, none: 'newest sale' }, state)}
  ${choiceField({ name: 'by', label: 'By', choices: BY }, state)}
  ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices, none: 'as usual' }, state)}
  <button>Show</button>
</form>`;
}

/** What the filter came to, in words: the choices themselves do not print. */
function filterSentence(show: Show, { filter, grades, yards }: ReportFrame): string {
  const grade = grades.find(({ id }) => id === filter.gradeId)?.name ?? 'All grades';
  const yard =
    yards.find(({ id }) => id === filter.yardId)?.name ??
    (filter.splitYards ? 'each yard apart' : 'all yards together');
  const { from, to } = filter;
  const span = from === null || to === null ? '' : `, ${monthLabel(show, from)} to ${monthLabel(show, to)}`;
  return `${grade}, ${yard}${span}.`;
}

/** What could not be read in the address, above the choices that are to be put right. */
export function filterProblems({ state }: Pick<ReportFrame, 'state'>): SafeHtml | null {
  const entries = Object.entries(state.problems);
  if (entries.length === 0) return null;
  return html`<div class="problems" role="alert" tabindex="-1" autofocus>
  <p>This report could not be shown as asked.</p>
  <ul>${entries.map(([name, sentence]) => html`<li><a href="#f-${name}">${sentence}</a></li>`)}</ul>
</div>`;
}

/** One page of a table. Two tables of a report turn their pages together, and a table that ended is left out. */
export interface RowPage<Row> {
  rows: readonly Row[];
  page: number;
  pages: number;
}

export function pageLinks(frame: ReportFrame, ...tables: readonly RowPage<unknown>[]): SafeHtml | null {
  const pages = Math.max(...tables.map((table) => table.pages));
  const page = tables[0]?.page ?? 1;
  if (pages <= 1) return null;
  const to = (other: number) => reportAddress(frame, { page: String(other) });
  return html`<nav class="pages" aria-label="Pages of the table">
  ${page > 1 ? html`<a class="button" href="${to(page - 1)}">Page before</a>` : null}
  <span>Page ${page} of ${pages}</span>
  ${page < pages ? html`<a class="button" href="${to(page + 1)}">Next page</a>` : null}
</nav>`;
}

/** A period without a sale, which a table says and a chart leaves open. */
export interface Gap {
  period: string;
  isGap: true;
}

/** How the lines of a chart are marked, which are at most four. */
export const lineMarks = ['circle', 'square', 'triangle', 'diamond'] as const;

interface TitledTable {
  id: string;
  title: string;
  /** The units of its figures. */
  hint: string;
  content: SafeHtml;
}

/** A table under a heading of its own: a caption as wide as the table would be cut off on a phone. */
export const titledTable = ({ id, title, hint, content }: TitledTable): SafeHtml => html`<h2 id="${id}">${title}</h2>
<p class="hint">${hint}</p>
<div class="scroll" role="region" aria-labelledby="${id}" tabindex="0"><table aria-labelledby="${id}">
${content}
</table></div>`;

/** "2.13 %", from a share such as 0.0213. */
export const percent = (show: Show, share: Decimal): string => `${show.figure(share.times(100), 2)} %`;

/** Decimals of a price that was worked out: tenths of a cent matter by the pound, not by the ton. */
export const priceDecimals = (per: MassUnit): number =>
  ['cwt', 'net ton', 'gross ton', 'tonne'].includes(per) ? 2 : 4;

/** On paper a report says when it was drawn up: tickets that are entered later change it. */
export const printedOn = (show: Show): SafeHtml =>
  html`<span class="print-only"> Printed ${show.day(show.today)}.</span>`;

interface ReportPage {
  title: string;
  /** What appears once a ticket is entered: "Prices appear", "Shrinkage appears". */
  appears: string;
  hasSales: boolean;
  report: () => SafeHtml;
}

/** The page around a report: what it is about, its filter, and the report itself or why there is none. */
export function reportPage(show: Show, frame: ReportFrame, { title, appears, hasSales, report }: ReportPage): SafeHtml {
  const hasProblems = Object.keys(frame.state.problems).length > 0;
  const nothingSold = () =>
    html`<p>Nothing was sold here in these months. ${appears} once a <a href="/tickets">ticket</a> is entered.</p>`;
  return page({
    title,
    show,
    body: html`<div class="report"><div class="head">
  <h1>${title}</h1>
  ${hasProblems ? null : html`<p class="lead">${filterSentence(show, frame)}${printedOn(show)}</p>`}
</div>
${filterProblems(frame)}
${filterForm(show, frame)}
${hasProblems ? null : hasSales ? report() : nothingSold()}
</div>`,
  });
}

interface YardRow {
  period: string | null;
  yardId: number | null;
  yardName: string | null;
  home: Decimal;
}

/** A line for each yard over the periods. A chart can tell four apart: those of the yards that took the most. */
export function yardLines<Row extends YardRow>(
  show: Show,
  { filter, periods }: ReportFrame & { periods: readonly string[] },
  { overall, rows, figureOf }: { overall: readonly YardRow[]; rows: readonly Row[]; figureOf: (row: Row) => Decimal },
): LineSeries[] {
  const yards = [...overall].sort((a, b) => b.home.comparedTo(a.home)).slice(0, lineMarks.length);
  return yards.map(({ yardId, yardName }, index) => ({
    name: yardName ?? 'All yards',
    mark: lineMarks[index] ?? 'circle',
    points: periods.map((period) => {
      const row = rows.find((one) => one.period === period && one.yardId === yardId);
      return { x: periodLabel(show, period, filter.by), y: row === undefined ? null : figureOf(row).toFixed() };
    }),
  }));
}
