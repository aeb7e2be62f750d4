import { groupByFamily } from '../../server/ledger/families.ts';
import type { BinOnHand } from '../../server/ledger/queries.ts';
import type { FormState } from '../common/form.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { ASK_ON_CHANGE } from './weighing-fields.ts';

/**
 * The bins as small hang tags to choose one from. Once one is chosen it stands alone and large, and a tick at "Another
 * bin" unfolds the rest: radio buttons and a checkbox, so that it works without a script and by keyboard.
 */
export function binPicker(bins: readonly BinOnHand[], { typed, problems }: FormState): SafeHtml {
  const chosen = typed.bin ?? '';
  const problem = problems.bin;
  const isUnknown = chosen !== '' && !bins.some(({ code }) => code === chosen);
  return html`<fieldset class="bins ${problem === undefined ? '' : 'has-problem'}" id="f-bin" tabindex="-1" ${ASK_ON_CHANGE}
  ${problem === undefined ? null : html`aria-describedby="f-bin-problem"`}>
  <legend>Bin</legend>
  ${bins.length < 2 ? null : unfold(problem !== undefined)}
  <div class="pick-tags">${groupByFamily(bins).map(({ rows }) => rows.map((bin) => pickTag(bin, bin.code === chosen)))}
  ${isUnknown ? unknownTag(chosen) : null}</div>
  ${problem === undefined ? null : html`<p class="problem" id="f-bin-problem">${problem}</p>`}
</fieldset>`;
}

const unfold = (isOpen: boolean): SafeHtml =>
  html`<label class="button other-bins"><input type="checkbox" class="away" ${isOpen ? html`checked` : null}> Another bin</label>`;

const pickTag = ({ code, grade_name, family }: BinOnHand, isChosen: boolean): SafeHtml =>
  html`<label class="pick-tag"><input type="radio" name="bin" value="${code}" ${isChosen ? html`checked` : null}>
    <span class="tag-code">${code}</span> <span class="pick-tag-grade">${swatch(family)} ${grade_name}</span></label>`;

/** What was sent stays visible even when it is not on the list, as a bin that was closed meanwhile. */
const unknownTag = (code: string): SafeHtml =>
  html`<label class="pick-tag"><input type="radio" name="bin" value="${code}" checked>
    <span class="tag-code">${code.slice(0, 40)}</span></label>`;
