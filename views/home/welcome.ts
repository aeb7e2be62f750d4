import { type FormState, problemSummary, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** The first page of an empty ledger: how to begin. */
export function welcomePage(show: Show, state: FormState, canShowDemo: boolean): SafeHtml {
  return page({
    title: 'Begin',
    show,
    body: html`<h1>An empty ledger</h1>
<p class="lead">Tarebook keeps what is in your bins, what the yard should pay for it, and where every pound and cent went
  once it has paid.</p>
${problemSummary(state)}
<div class="ways">
  <section class="way">
    <h2>Begin your own</h2>
    <p>Puts the usual scrap grades into your ledger, so that you can name your bins and yards next. You can rename or add
      grades at any time.</p>
    <form method="post" action="/starter-list">
      ${requestKeyField(state)}
      <button class="primary">Begin with the starter list</button>
    </form>
    <p class="hint">Or bring your own list: <a href="/import">import grades from a file</a>, or
      <a href="/setup/grades">type them in</a>.</p>
  </section>
  ${canShowDemo ? demoWay() : null}
</div>`,
  });
}

const demoWay = () => html`<section class="way">
  <h2>Look around first</h2>
  <p>Fourteen months of an invented household: bins, prices, runs, tickets with all their troubles. It is a ledger of its
    own and never mixes with yours.</p>
  <form method="post" action="/demo">
    <button>Look around in the demo ledger</button>
  </form>
</section>`;

export const demoReadyPage = (show: Show, address: string): SafeHtml =>
  page({
    title: 'Demo ledger',
    show,
    body: html`<h1>The demo ledger is open</h1>
<p>It is a ledger of its own, at its own address. What you type there stays there, and is gone when Tarebook stops.</p>
<p><a class="button primary" href="${address}">Go to the demo ledger</a> <a class="button" href="/">Stay here</a></p>`,
  });
