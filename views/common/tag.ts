import { gradeFamilies } from '../../server/ledger/families.ts';
import type { AmountMinor } from '../../server/money/money.ts';
import type { Day } from '../../server/units/day.ts';
import type { MassUg } from '../../server/units/mass.ts';
import { html, type SafeHtml } from '../html.ts';
import type { Show } from './show.ts';

/** The class of a family's swatch: "brass and bronze" has the pattern .swatch-brass-and-bronze. */
const writeSwatch = (family: string): SafeHtml =>
  html`<span class="swatch swatch-${family.replaceAll(' ', '-')}" aria-hidden="true"></span>`;
const swatches = new Map(gradeFamilies.map((family): [string, SafeHtml] => [family, writeSwatch(family)]));

/** The sign of a grade family, beside its name. */
export const swatch = (family: string): SafeHtml => swatches.get(family) ?? writeSwatch(family);

export interface TagParts {
  code: string;
  gradeName: string;
  family: string;
  place: string;
  massUg: MassUg;
  valueMinor: AmountMinor | null;
  /** Whether a yard has quoted its grade: without a value, that price cannot be right. */
  isQuoted: boolean;
  /** 0 to 1 and above; null without a full mark. */
  fullness: number | null;
  sinceOn: Day | null;
}

/** A bin as its hang tag, as it hangs on the bucket: code, grade, weight. */
export function binTag(show: Show, tag: TagParts): SafeHtml {
  const isEmpty = tag.massUg === 0;
  return html`<li class="tag">
  <a href="/weigh-in?bin=${encodeURIComponent(tag.code)}" class="tag-face">
    <span class="tag-code">${tag.code}</span>
    <span class="tag-family">${swatch(tag.family)} ${tag.family}</span>
    <span class="tag-grade">${tag.gradeName}</span>
    <span class="tag-weight"><b>${show.weightFigure(tag.massUg)}</b> ${show.settings.unit}</span>
    <span class="tag-value">${isEmpty ? 'empty' : valueText(show, tag)}</span>
    ${tag.fullness === null ? null : fullnessBar(tag.fullness)}
  </a>
  <p class="tag-foot">
    <span>${tag.place}</span>
    ${tag.sinceOn === null || isEmpty ? null : html`<span>since ${show.day(tag.sinceOn)}</span>`}
    <a href="/bins/${encodeURIComponent(tag.code)}" aria-label="Ledger of ${tag.code}">Ledger</a>
  </p>
</li>`;
}

function valueText(show: Show, { valueMinor, isQuoted }: TagParts): string {
  if (valueMinor !== null) return show.money(valueMinor);
  return isQuoted ? 'check its price' : 'no price yet';
}

function fullnessBar(share: number): SafeHtml {
  const percent = Math.round(share * 100);
  return html`<span class="tag-full"><meter min="0" max="1" value="${String(Math.min(1, share))}">${percent} %</meter>
    <span>${percent >= 100 ? 'full' : `${percent} % full`}</span></span>`;
}
