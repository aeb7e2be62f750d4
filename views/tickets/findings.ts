import { amountMinor } from '../../server/money/money.ts';
import type { Finding } from '../../server/tickets/audit.ts';
import type { RunningAudit } from '../../server/tickets/questions.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

const linkToLine = (lineNo: number): SafeHtml =>
  html`<a class="nowrap no-print" href="#line-${lineNo}">To line ${lineNo}</a>`;

/** Findings as calm questions, each with a way to its line. */
export function findingsList(findings: readonly Finding[], wayToLine = linkToLine): SafeHtml {
  return html`<ul class="findings">${findings.map(
    ({ text, lineNo }) => html`<li>${text} ${lineNo === null ? null : wayToLine(lineNo)}</li>`,
  )}</ul>`;
}

/** What the form comes to so far: asked for while typing, and part of the page. */
export function runningAudit(show: Show, audit: RunningAudit): SafeHtml {
  const { linesRead, linesInAll, findings } = audit;
  const counted = linesRead === linesInAll ? 'The lines' : `${linesRead} of ${linesInAll} lines`;
  const foot = footSoFar(show, audit);
  return html`<p class="running sum-so-far">${counted} come to <b class="figure">${show.money(audit.linesMinor)}</b>.</p>
${
  foot === null && findings.length === 0
    ? null
    : html`<div class="running-more">${foot}
${findings.length === 0 ? null : html`<p class="group-label">To look at again</p>${findingsList(findings)}`}</div>`
}`;
}

function footSoFar(show: Show, { linesMinor, beforeRoundingMinor, roundedMinor, cashStepMinor }: RunningAudit) {
  if (beforeRoundingMinor === null) return null;
  const charged =
    beforeRoundingMinor === linesMinor
      ? null
      : html`After charges and tax: <b>${show.money(beforeRoundingMinor)}</b>. `;
  const step = amountMinor(cashStepMinor);
  const rounded =
    roundedMinor === null
      ? null
      : html`In cash to the nearest ${show.money(step)}: <b>${show.money(roundedMinor)}</b>, a rounding of
        ${show.signedMoney(amountMinor(roundedMinor - beforeRoundingMinor))}.`;
  return charged === null && rounded === null ? null : html`<p class="running">${charged}${rounded}</p>`;
}
