import type { ListPage } from '../../server/setup/pages.ts';
import type { Container } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  massUnitChoices,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, pageLinks, removalSection } from './parts.ts';

export interface ContainersParts {
  list: ListPage<Container>;
  done: string | null;
  isAdding: boolean;
}

export function containersPage(show: Show, { list, done, isAdding }: ContainersParts, state: FormState): SafeHtml {
  return page({
    title: 'Containers',
    show,
    body: html`${backToSetUp}<h1>Containers</h1>
<p>What holds material on the scale. Weigh each one once, empty; at the bench its tare is then taken off by itself.</p>
${doneLine(done, isAdding ? html`<a href="/setup/bins">Next: bins</a>, or add another container.` : null)}
<section class="way"><h2>Add a container</h2>${containerForm('/setup/containers', 'Add the container', state, isAdding)}</section>
${list.rows.length === 0 ? null : html`<h2>Containers in this ledger</h2>`}
<ul class="rows">${list.rows.map(
      ({ id, name, tare_ug }) => html`<li><a class="row-link" href="/setup/containers/${id}">${name}</a>
  <span class="figure">${show.weight(tare_ug)}</span></li>`,
    )}</ul>
${pageLinks('/setup/containers', list)}`,
  });
}

export const containerPage = (show: Show, container: Container, state: FormState): SafeHtml =>
  page({
    title: container.name,
    show,
    body: html`${backTo('/setup/containers', 'Containers')}<h1>${container.name}</h1>
<p>A changed tare counts from the next weighing on. What was weighed before keeps the tare it was weighed with.</p>
${containerForm(`/setup/containers/${container.id}`, 'Save', state)}
${removalSection('container', container, `/setup/containers/${container.id}`)}`,
  });

const containerForm = (action: string, button: string, state: FormState, isFocused = false) =>
  html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField(
    {
      name: 'name',
      label: 'Name',
      hint: 'As you call it, for example: blue tub.',
      attributes: isFocused ? html`autofocus` : html``,
    },
    state,
  )}
  <div class="pair">
    ${numberField({ name: 'tare', label: 'Empty (tare)' }, state)}
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
  </div>
  <button class="primary">${button}</button>
</form>`;
