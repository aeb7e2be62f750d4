import { html, type SafeHtml } from '../html.ts';
import { requestKeyField } from './form.ts';

/** The way from a document's page to what was done with it. @param kind of document, as the trail names it */
export const trailLink = (kind: string, id: number, text: string): SafeHtml =>
  html`<p class="trail-link"><a href="/trail?document=${kind}-${id}">${text}</a></p>`;

/** The button that puts back what a line of the trail says; null without such a line. */
export const putBackForm = (trailId: number, text: string): SafeHtml | null =>
  trailId === 0
    ? null
    : html`<form method="post" action="/trail/${trailId}/put-back">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet">${text}</button></form>`;
