// Forms as they stand in a page: what a browser would send, read from the page itself, so that a new form is found by
// whoever walks through the pages and does not have to be listed.

/** What may be put into a field, as its input shows. */
export type FieldKind = 'text' | 'figure' | 'day' | 'list' | 'tick' | 'hidden' | 'secret' | 'file';

export interface FormField {
  readonly name: string;
  readonly kind: FieldKind;
  /** What is sent when nobody touches it; null where nothing is, as of an empty tick box. */
  readonly value: string | null;
  /** Of a list its choices, of a tick box what it sends when it is ticked. */
  readonly choices: readonly string[];
  readonly isRadio?: boolean;
}

export interface PageForm {
  readonly method: 'get' | 'post';
  /** Where it goes: the form's own address or that of one of its buttons. */
  readonly url: string;
  /** Whether it is sent in parts, as a form with files is. */
  readonly isInParts: boolean;
  /** In the order of the page, with what the pressed button says. */
  readonly fields: readonly FormField[];
}

const ENTITIES: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', '#39': "'" };
const unescaped = (text: string): string =>
  text.replace(/&(amp|lt|gt|quot|#39);/g, (_, name: string) => ENTITIES[name] ?? '');

type Attributes = Readonly<Record<string, string>>;

function attributesOf(tag: string): Attributes {
  const found = [...tag.matchAll(/([^\s="'<>/]+)(?:="([^"]*)")?/g)];
  return Object.fromEntries(found.map(([, name = '', value = '']) => [name.toLowerCase(), unescaped(value)]));
}

/** The tags of these names within a text, each with the text up to its end tag where it has one. */
const tagsIn = (text: string, name: string): { attributes: Attributes; content: string; at: number }[] =>
  [...text.matchAll(new RegExp(`<${name}\\b([^>]*)>(?:([\\s\\S]*?)</${name}>)?`, 'g'))].map((match) => ({
    attributes: attributesOf(match[1] ?? ''),
    content: match[2] ?? '',
    at: match.index,
  }));

const KINDS: Readonly<Record<string, FieldKind>> = {
  hidden: 'hidden',
  password: 'secret',
  date: 'day',
  checkbox: 'tick',
  radio: 'tick',
  file: 'file',
};

function fieldOfInput(attributes: Attributes): FormField {
  const { name = '', type = '', value = '', inputmode } = attributes;
  const kind = KINDS[type] ?? (inputmode === 'decimal' ? 'figure' : 'text');
  const isLeftOut = kind === 'file' || (kind === 'tick' && !('checked' in attributes));
  const choices = kind === 'tick' ? [value] : [];
  return { name, kind, value: isLeftOut ? null : value, choices, isRadio: type === 'radio' };
}

function fieldOfSelect(attributes: Attributes, content: string): FormField {
  // An option has no end tag within another one, and its value stands in its tag.
  const options = [...content.matchAll(/<option\b([^>]*)>/g)].map(([, tag = '']) => attributesOf(tag));
  const chosen = options.find((option) => 'selected' in option) ?? options[0];
  const choices = options.map(({ value = '' }) => value);
  return { name: attributes.name ?? '', kind: 'list', value: chosen?.value ?? null, choices };
}

function fieldsIn(text: string): FormField[] {
  const inputs = [...text.matchAll(/<input\b([^>]*)>/g)].map((match) => {
    return { at: match.index, field: fieldOfInput(attributesOf(match[1] ?? '')) };
  });
  const selects = tagsIn(text, 'select').map(({ attributes, content, at }) => {
    return { at, field: fieldOfSelect(attributes, content) };
  });
  const areas = tagsIn(text, 'textarea').map(({ attributes, content, at }) => {
    const field = { name: attributes.name ?? '', kind: 'text', value: unescaped(content), choices: [] } as const;
    return { at, field };
  });
  const all: { at: number; field: FormField }[] = [...inputs, ...selects, ...areas];
  const inOrder = all.sort((a, b) => a.at - b.at).map(({ field }) => field);
  return withoutTwins(inOrder.filter(({ name }) => name !== ''));
}

/** The buttons of a choice, of which one is down, are one field. */
function withoutTwins(fields: readonly FormField[]): FormField[] {
  const first = (name: string) => fields.findIndex((field) => field.name === name && field.isRadio);
  return fields.flatMap((field, index) => {
    if (!field.isRadio) return [field];
    if (first(field.name) !== index) return [];
    const twins = fields.filter(({ name, isRadio }) => isRadio && name === field.name);
    const value = twins.find((twin) => twin.value !== null)?.value ?? null;
    return [{ ...field, kind: 'list', value, choices: twins.flatMap(({ choices }) => choices) }];
  });
}

const said = ({ name, value = '' }: Attributes): FormField[] =>
  name === undefined ? [] : [{ name, kind: 'hidden', value, choices: [] }];

const pathOf = (url: string): string => url.split('#')[0] ?? url;

/**
 * Every way in which a form of a page can be sent: by each of its buttons, within it or elsewhere on the page, and by
 * what sends it while it is filled in.
 * @param pageUrl where a form goes that does not say where
 */
export function formsIn(page: string, pageUrl: string): PageForm[] {
  return tagsIn(page, 'form').flatMap(({ attributes, content }) => {
    const fields = fieldsIn(content);
    const elsewhere = tagsIn(page, 'button').filter(
      (button) => attributes.id && button.attributes.form === attributes.id,
    );
    const buttons = [...tagsIn(content, 'button'), ...elsewhere].map((button) => button.attributes);
    const whileFilledIn = [...content.matchAll(/hx-post="([^"]*)"/g)].map(([, url = '']) => unescaped(url));
    const own = { method: attributes.method === 'post' ? 'post' : 'get', url: attributes.action || pageUrl } as const;
    const isInParts = attributes.enctype === 'multipart/form-data';
    const pressed = buttons.filter((button) => button.type !== 'button');
    // A form without a button is sent by Enter.
    const sent = (pressed.length === 0 ? [{} as Attributes] : pressed).map((button): PageForm => {
      const method = button.formmethod === 'get' ? 'get' : own.method;
      const url = pathOf(button.formaction || own.url);
      return { method, url, isInParts, fields: [...fields, ...said(button)] };
    });
    const asked = whileFilledIn.map((url): PageForm => ({ method: 'post', url: pathOf(url), isInParts, fields }));
    return [...sent, ...asked];
  });
}

/** The addresses of this server that a page leads to, and those that it asks for by itself. */
export const linksIn = (page: string): string[] =>
  [...page.matchAll(/\b(?:href|hx-get)="(\/[^"]*)"/g)]
    .map(([, url = '']) => pathOf(unescaped(url)))
    .filter((url) => !url.startsWith('//') && !url.startsWith('/static/'));
