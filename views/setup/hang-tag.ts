import { weighInAddress } from '../../server/setup/tag-address.ts';
import type { MassUg } from '../../server/units/mass.ts';
import { qrCode } from '../common/qr.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';

/** What is printed on the tag that hangs on a bin. */
export interface HangTag {
  code: string;
  gradeName: string;
  family: string;
  place: string;
  container: { name: string; tare_ug: MassUg } | null;
}

/** As many letters of usual width as stand on one line; a longer code goes over several. */
const LONGEST_ON_A_LINE = 12;

/** How many letters of usual width a code is as wide as: W and M are wider by a third. */
const lettersWide = (code: string): number => Math.ceil(code.length + (code.match(/[WM]/gi)?.length ?? 0) / 3);

/**
 * One tag to cut out: its code as large as the tag is wide, to be read across the garage.
 * @param home the address that the code on it leads to; null leaves the code out
 */
export function hangTag(show: Show, tag: HangTag, home: string | null): SafeHtml {
  const { code, gradeName, family, place, container } = tag;
  const size = Math.min(lettersWide(code), LONGEST_ON_A_LINE + 1);
  return html`<li class="hang-tag"><div class="hang-face">
  <span class="hang-hole" aria-hidden="true"></span>
  <h2 class="hang-code hang-code-${size}">${code}</h2>
  <div class="hang-below">
    <div class="hang-what">
      <p class="hang-grade">${gradeName}</p>
      <p>${swatch(family)} ${family}</p>
      ${container === null ? null : html`<p>${container.name}, <span class="nowrap">empty ${show.weight(container.tare_ug)}</span></p>`}
      ${place === '' ? null : html`<p>${place}</p>`}
    </div>
    ${home === null ? null : html`<div class="hang-qr">${qrCode(weighInAddress(home, code), `Code that opens the weigh-in for ${code}`)}</div>`}
  </div>
</div></li>`;
}
