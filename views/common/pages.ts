import type { ListAddresses } from '../../server/web.ts';
import { html, type SafeHtml } from '../html.ts';

/** Links to the pages of a list before and after this one, if there are any. @param what the rows are: "tickets" */
export function newerAndOlder({ newer, older }: ListAddresses, what: string): SafeHtml | null {
  if (newer === null && older === null) return null;
  return html`<nav class="pages" aria-label="Pages">
  ${newer === null ? null : html`<a class="button" href="${newer}">Newer ${what}</a>`}
  ${older === null ? null : html`<a class="button" href="${older}">Older ${what}</a>`}
</nav>`;
}
