import { amountMinor } from '../../server/money/money.ts';
import type { Finding } from '../../server/tickets/audit.ts';
import type { RunningAudit } from '../../server/tickets/questions.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/** Findings as calm questions, each led to its line where there is one to go to. */
export function findingsList(findings: readonly Finding[], lineAddress?: (lineNo: number) => string): SafeHtml {
  return html`<ul class="findings">${findings.map(
    ({ text, lineNo }) => html`<li>${text}
    ${lineNo === null || lineAddress === undefined ? null : html` <a class="nowrap" href="${lineAddress(lineNo)}">To line ${lineNo}</a>`}</li>`,
  )}</ul>`;
}

/** What the form comes to so far: asked for while typing, and part of the page. */
export function runningAudit(show: Show, audit: RunningAudit): SafeHtml {
  const { linesRead, linesInAll, findings } = audit;
  const counted = linesRead === linesInAll ? '' : ` (${linesRead} of ${linesInAll} lines so far)`;
  return html`<p class="running">The lines come to <b class="figure">${show.money(audit.linesMinor)}</b>${counted}.</p>
${footSoFar(show, audit)}
${findings.length === 0 ? null : html`<p class="group-label">To look at again</p>${findingsList(findings, (lineNo) => `#line-${lineNo}`)}`}`;
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
