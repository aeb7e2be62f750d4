import type { CarriedForm } from '../../server/access/carried.ts';
import { readDay } from '../../server/units/day.ts';
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
${typedList(show, form)}
<form method="post" action="${form.url}">
  ${Object.entries(form.typed).map(([name, value]) => hiddenField(name, value))}
  <p class="acts"><button class="primary" autofocus>Send it</button> <a class="button" href="/">Leave it</a></p>
</form>`
}`,
  });
}

/** What a person types into forms, by the name of the field; the rest is chosen from lists or belongs to the page. */
const LABELS: Readonly<Record<string, string>> = {
  bin: 'Bin',
  gross: 'Reading (gross)',
  tare: 'Tare',
  net: 'Net',
  deduction: 'Deduction',
  price: 'Price',
  amount: 'Amount',
  total: 'Total',
  number: 'Number',
  code: 'Code',
  name: 'Name',
  place: 'Place',
  occurredOn: 'Day',
  soldOn: 'Sold on',
  seenOn: 'Seen on',
  reason: 'Why',
  note: 'Note',
};

/** The label of a field: "gross-2" is the reading of the second line. */
function labelOf(field: string): string | null {
  const [, name = '', line = ''] = /^([a-zA-Z]+)(?:-(\d+))?$/.exec(field) ?? [];
  const label = LABELS[name];
  return label === undefined ? null : `${label}${line === '' ? '' : `, ${line}`}`;
}

function typedList(show: Show, { typed }: CarriedForm): SafeHtml {
  const shown = Object.entries(typed).flatMap(([name, value]) => {
    const label = labelOf(name);
    const day = readDay(value);
    return label === null || value.trim() === '' ? [] : [[label, day.ok ? show.day(day.value) : value.slice(0, 200)]];
  });
  return html`<dl class="typed">${shown.slice(0, 40).map(([label, value]) => html`<div><dt>${label}</dt><dd>${value}</dd></div>`)}</dl>`;
}
