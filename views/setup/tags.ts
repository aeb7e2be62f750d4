import { isNumeric, weighInAddress } from '../../server/setup/tag-address.ts';
import {
  choiceField,
  type FormState,
  hiddenField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { type HangTag, hangTag } from './hang-tag.ts';
import { backTo } from './parts.ts';

export interface TagsPage {
  /** The bins to choose from: the open ones, and closed ones that were asked for. */
  bins: readonly { id: number; code: string; isChosen: boolean }[];
  tags: readonly HangTag[];
  /** How many of the chosen bins are more than one page takes. */
  leftOut: number;
  /** What the codes lead to; null while this computer answers only itself. */
  address: string | null;
  /** The addresses that this computer has now. */
  homeUrls: readonly string[];
  addressChoices: readonly string[];
  isAddressSaved: boolean;
}

/** Tags for the bins, as they print. Above them, which bins and what their codes lead to. */
export function tagsPage(show: Show, parts: TagsPage, state: FormState): SafeHtml {
  const { bins, tags, leftOut, address } = parts;
  return page({
    title: 'Bin tags',
    show,
    kind: 'sheet',
    body: html`<div class="no-print">${backTo('/setup/bins', 'Bins')}<h1>Bin tags</h1>
<p>Print, cut along the lines, punch the hole, and hang each tag on its bin. A clear sleeve keeps it readable.</p>
${problemSummary(state)}
${parts.isAddressSaved ? html`<p class="saved" role="status">The codes lead to ${address} now.</p>` : null}
<div class="ways">${bins.length === 0 ? noBins : chooseBins(parts)}${address === null && Object.keys(state.problems).length === 0 ? noAddress : chooseAddress(parts, state)}</div>
${tags.length === 0 ? null : printLine(tags, leftOut)}</div>
${tags.length === 0 ? html`<p class="print-only">No bin is chosen, so there is no tag to print.</p>` : html`<section class="paper hang-tags" aria-label="Tags"><ul>${tags.map((tag) => hangTag(show, tag, address))}</ul></section>`}`,
  });
}

const noBins = html`<section class="way"><h2>No bins yet</h2>
<p>There is no open bin to print a tag for. <a href="/setup/bins">Add a bin</a> first.</p></section>`;

const printLine = (tags: readonly HangTag[], leftOut: number): SafeHtml => html`<p class="sheet-acts">
  <button class="primary" type="button" data-print hidden>Print ${tags.length === 1 ? 'the tag' : `${tags.length} tags`}</button>
  <span class="hint" data-print-hint>Print this page with the browser.</span>
  ${leftOut === 0 ? null : html`<span>${leftOut} more do not fit on this page. Choose fewer bins at a time.</span>`}</p>`;

/** Sent by GET, so that the choice is in the address. */
const chooseBins = ({ bins, tags }: TagsPage): SafeHtml => html`<form class="way" method="get" action="/setup/tags">
  <h2>Which bins</h2>
  ${hiddenField('chosen', 'bins')}
  ${tags.length === 0 ? html`<p>No bin is ticked, so there is no tag to show.</p>` : null}
  <fieldset class="bin-ticks"><legend>Bins</legend>${bins.map(
    ({ id, code, isChosen }) =>
      html`<label><input type="checkbox" name="bins" value="${id}" ${isChosen ? html`checked` : null}> <span>${code}</span></label>`,
  )}</fieldset>
  <p class="acts"><button>Show these tags</button> <a class="button quiet" href="/setup/tags">All open bins</a></p>
</form>`;

const noAddress = html`<section class="way"><h2>Codes for the phone</h2>
<p>For now this computer answers only itself, so a code would lead a phone nowhere. The tags are printed without codes.
  Once Tarebook answers at home, come back here and print them with codes.</p></section>`;

function chooseAddress(parts: TagsPage, state: FormState): SafeHtml {
  const { address, addressChoices, bins } = parts;
  const choices = addressChoices.map((value) => ({ value, label: value }));
  const chosen = bins.filter(({ isChosen }) => isChosen).map(({ id }) => id);
  return html`<form class="way" method="post" action="/setup/tags/address">
  <h2>What the codes open</h2>
  <p>Hold a phone’s camera over the code of a tag and it opens the weigh-in for that bin.${example(parts)}</p>
  ${isGone(parts) ? html`<p class="problem">This computer does not have the address ${address} now. Tags with it would lead nowhere.</p>` : null}
  ${requestKeyField(state)}${hiddenField('bins', chosen.join(', '))}
  ${choiceField({ name: 'address', label: 'Address of this computer', choices }, state)}
  ${textField({ name: 'name', label: 'Or a name that it goes by at home', hint: 'Like garage.local. A name that is not its own must also be among TAREBOOK_HOSTS.', attributes: html`autocapitalize="none" spellcheck="false"` }, state)}
  <p class="hint">A router may give this computer another address later, and then the printed codes lead nowhere. Give the
    computer a fixed address in the router, or use its name.</p>
  <button>Use it for the codes</button>
</form>`;
}

const example = ({ address, tags }: TagsPage): SafeHtml | null =>
  address === null || tags[0] === undefined
    ? null
    : html` The code of ${tags[0].code} opens <span class="address">${weighInAddress(address, tags[0].code)}</span>.`;

/** An address made of figures that the computer no longer has; of a name nobody can tell from here. */
const isGone = ({ address, homeUrls }: TagsPage): boolean =>
  address !== null && isNumeric(address) && !homeUrls.includes(address);
