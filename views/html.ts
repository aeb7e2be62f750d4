/** What may stand in a piece of HTML. Text is escaped; null and undefined are nothing; lists are joined. */
type Interpolation = SafeHtml | string | number | boolean | null | undefined | readonly Interpolation[];

/** Text that is HTML already. Made by the `html` tag only, so that no text gets into a page unescaped. */
export class SafeHtml {
  readonly #text: string;

  constructor(text: string) {
    this.#text = text;
  }

  toString(): string {
    return this.#text;
  }
}

const SPECIAL = /[&<>"']/;
const EACH_SPECIAL = /[&<>"']/g;
const ESCAPED: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Most texts hold none of the five, and to look is quicker than to replace. */
const escapeText = (text: string): string =>
  SPECIAL.test(text) ? text.replace(EACH_SPECIAL, (sign) => ESCAPED[sign] ?? sign) : text;

function written(value: Interpolation): string {
  if (typeof value === 'string') return escapeText(value);
  if (value instanceof SafeHtml) return value.toString();
  if (value === null || value === undefined) return '';
  if (typeof value === 'number' || typeof value === 'boolean') return String(value);
  let text = '';
  for (const each of value) text += written(each);
  return text;
}

/**
 * Writes HTML: whatever stands in a place of the template is escaped unless it was written by this tag itself. Quote
 * attributes; what a person typed never goes into an `href` unencoded.
 */
export function html(strings: TemplateStringsArray, ...values: readonly Interpolation[]): SafeHtml {
  let text = strings[0] ?? '';
  for (let place = 0; place < values.length; place += 1) text += written(values[place]) + strings[place + 1];
  return new SafeHtml(text);
}
