import type { CarriedForm } from '../../server/access/carried.ts';
import { hiddenField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** A form from before this browser signed in, or one that waited for that: sent once more, as it was typed. */
export function resendPage(show: Show, form: CarriedForm | null): SafeHtml {
  return page({
    title: 'Send it once more',
    show,
    body: html`<h1>Send it once more</h1>
${
  form === null
    ? html`<p>This page was older than this device’s sign-in, so nothing was saved. Go back, load the page anew and send it
  again.</p>`
    : html`<p>This form was filled in before this device signed in. Nothing of it was saved yet.</p>
${typedList(form)}
<form method="post" action="${form.url}">
  ${Object.entries(form.typed).map(([name, value]) => hiddenField(name, value))}
  <p class="acts"><button class="primary" autofocus>Send it</button> <a class="button" href="/">Leave it</a></p>
</form>`
}`,
  });
}

/** Names that say nothing to a person. */
const INTERNAL = new Set(['requestKey', 'version', 'step', 'back']);

function typedList({ typed }: CarriedForm): SafeHtml {
  const shown = Object.entries(typed).filter(([name, value]) => !INTERNAL.has(name) && value.trim() !== '');
  return html`<dl class="typed">${shown
    .slice(0, 40)
    .map(([name, value]) => html`<div><dt>${name}</dt><dd>${value.slice(0, 200)}</dd></div>`)}</dl>`;
}
