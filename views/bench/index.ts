import type { FamilyGroup } from '../../server/ledger/families.ts';
import type { Grade } from '../../server/setup/queries.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** What can be found out at the bench: whether to strip, which metal it is, which grade. */
export const benchPage = (show: Show, families: readonly FamilyGroup<Grade>[]): SafeHtml =>
  page({
    title: 'Bench',
    show,
    body: html`<h1>Bench</h1>
<dl class="doors">
  <div><dt><a href="/bench/wire">Strip or sell</a></dt><dd>What a wire brings bare, beside what it brings as it is.</dd></div>
  <div><dt><a href="/bench/metal">Which metal</a></dt><dd>Weigh a piece dry and hanging in water; see what it may be.</dd></div>
  <div><dt><a href="/bench/stripping">Strip a lot</a></dt><dd>Write down wire that was stripped: its metal goes into another bin.</dd></div>
  <div><dt><a href="/bench/wire/kinds">Kinds of wire</a></dt><dd>Samples of each, weighed before and after.</dd></div>
</dl>
<h2>Which grade?</h2>
${
  families.length === 0
    ? html`<p>There are no grades in this ledger yet. Begin with them in <a href="/setup/grades">Set-up</a>.</p>`
    : html`<p>How each grade of this ledger is told, and what makes a yard call it lower. The texts can be changed
  <a href="/setup/grades">in Set-up</a>.</p>${families.map(familySection)}`
}`,
  });

const familySection = ({ family, rows }: FamilyGroup<Grade>): SafeHtml => html`<details>
<summary><span>${swatch(family)} ${family}</span></summary>
<dl class="doors">${rows.map(
  ({ id, name, recognise, spoiled_by }) => html`<div><dt><a href="/setup/grades/${id}">${name}</a></dt>
  <dd>${recognise === '' ? 'Nothing is written down of how it is told.' : recognise}${
    spoiled_by === '' ? null : html`<br><small>Spoiled by: ${spoiled_by}</small>`
  }</dd></div>`,
)}</dl></details>`;
