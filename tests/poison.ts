import { type DefaultTreeAdapterTypes, parse } from 'parse5';
import type { Db } from '../server/db/database.ts';

// Text that would be more than text on a page that is careless about it, and what tells whether it was.

/** An element, an attribute and a global variable that no page of ours has. */
export const MARK = 'tarebook-poison';
export const RAN = 'tarebookRan';

/** Each breaks out of another place: an element, an attribute, an address, a raw text element, a script, a template. */
export const POISONS: readonly string[] = [
  `<script>${RAN}=1</script><${MARK} a=1>`,
  `"><img src=x onerror=${RAN}=1><${MARK}>`,
  `'><img src=x onerror=${RAN}=1><${MARK}>`,
  `" onmouseover="${RAN}=1" ${MARK}="1" autofocus onfocus="${RAN}=1`,
  `' onmouseover='${RAN}=1' ${MARK}='1`,
  `x ${MARK}=1 onmouseover=${RAN}=1 x=`,
  `javascript:${RAN}=1//`,
  `data:text/html,<script>${RAN}=1</script>`,
  `</textarea></title></option></select></style></script></svg><svg onload=${RAN}=1><${MARK}>`,
  `--><!--><${MARK}><![CDATA[<${MARK}>]]><?${MARK}?>`,
  `&lt;${MARK}&gt;&#60;${MARK}&#62;&quot;>&apos;&NewLine;&colon;`,
  `{{constructor.constructor('${RAN}=1')()}}\${${RAN}=1}<%=${RAN}=1%>#{${RAN}=1}`,
  `x\u2028${RAN}=1\u2029\u202e<${MARK}>\ufeff`,
  `<${MARK}\t/x=1//><a href="javascript:${RAN}=1">x</a><form action=//x.example><base href=//x.example>`,
  `\uff1cscript\uff1e\u02b9><${MARK}>$&$'$\`$1`,
];

/** A word that is nothing but letters, to compare with. */
export const HARMLESS = 'x'.repeat(40);

/** Columns whose text is chosen from a list, a figure, a day, an address of ours, a secret or worked out: no free text. */
const NO_FREE_TEXT =
  /^(setting|passphrase|home_address|request|sqlite|found|layer)|_(at|on|minutes|typed|hash|kind|by|per|price|class|division|unit)$|\.(kind|content|sha256|mime|unit|per|price|family|status|weighed|division|class|tolerance|capacity|worked_out|month|before|after|change|gross|tare|net|deduction|act|reason|cautions|percent|got|depth)$/;
/** Text that is free although its name is that of a figure or of a fixed word elsewhere. */
const FREE = new Set(['grade.spoiled_by', 'load_return.reason', 'ticket_take_back.reason']);

interface Column {
  table: string;
  column: string;
}

/** Every column of the ledger that holds words a person typed, from the schema itself. */
export function freeTextColumns({ sqlite }: Db): Column[] {
  const rows = sqlite
    .prepare(
      `select m.name as "table", c.name as "column" from sqlite_master m, pragma_table_info(m.name) c
       where m.type = 'table' and c.type = 'TEXT' order by 1, 2`,
    )
    .all() as Column[];
  return rows.filter(({ table, column }) => {
    const name = `${table}.${column}`;
    return FREE.has(name) || !NO_FREE_TEXT.test(name);
  });
}

/**
 * Writes a text before every word that stands in the ledger, in every row: what no form lets in and no trigger lets
 * change, as if it had come in all the same. For a ledger that is thrown away afterwards.
 */
export function poison(db: Db, text: string): void {
  const { sqlite } = db;
  const triggers = sqlite.prepare("select name from sqlite_master where type = 'trigger'").pluck().all() as string[];
  for (const name of triggers) sqlite.exec(`drop trigger "${name}"`);
  for (const { table, column } of freeTextColumns(db)) {
    sqlite.prepare(`update "${table}" set "${column}" = ? || "${column}" where "${column}" is not null`).run(text);
  }
}

type Element = DefaultTreeAdapterTypes.Element;

/** Every element of a page as a browser would build it, those within templates too. */
export function elementsOf(page: string): Element[] {
  const found: Element[] = [];
  const walk = (node: DefaultTreeAdapterTypes.ParentNode): void => {
    for (const child of node.childNodes) {
      if (!('tagName' in child)) continue;
      found.push(child);
      walk('content' in child ? (child as DefaultTreeAdapterTypes.Template).content : child);
    }
  };
  walk(parse(page));
  return found;
}

/** Of which there are as many as a text has lines or found words. */
const BY_THE_WORD = new Set(['mark', 'text', 'tspan']);

/** Elements and the names of their attributes, in order: text and values left out. */
export const skeletonOf = (elements: readonly Element[]): string =>
  elements
    .filter(({ tagName }) => !BY_THE_WORD.has(tagName))
    .map(({ tagName, attrs }) => `${tagName} ${attrs.map(({ name }) => name).join(' ')}`)
    .join('\n');

const ADDRESSES = new Set(['href', 'src', 'action', 'formaction', 'xlink:href', 'data', 'hx-get', 'hx-post', 'poster']);
const FORBIDDEN = new Set(['iframe', 'frame', 'object', 'embed', 'base', 'style', 'template', 'applet', MARK]);

/** What of a page is more than text though it should not be; empty where all is well. */
export function intruders(page: string | readonly Element[]): string[] {
  return (typeof page === 'string' ? elementsOf(page) : page).flatMap(({ tagName, attrs, childNodes }) => {
    const of = (what: string) => [`<${tagName}> ${what}`];
    if (FORBIDDEN.has(tagName)) return of('stands there');
    const src = attrs.find(({ name }) => name === 'src')?.value ?? '';
    if (tagName === 'script' && !(src.startsWith('/static/') && childNodes.length === 0)) return of('is not ours');
    if (tagName === 'img' && !src.startsWith('/files/')) return of(`src=${src}`);
    if (tagName === 'meta' && attrs.some(({ name }) => name === 'http-equiv')) return of('http-equiv');
    return attrs.flatMap(({ name, value }) => {
      if (name.startsWith('on') || name.startsWith('hx-on') || name === 'style' || name.includes(MARK)) return of(name);
      const isOurs = /^([/#?](?![/\\])|data:,$|http:\/\/192\.168\.\d+\.\d+:\d+\/|$)/.test(value);
      return ADDRESSES.has(name.toLowerCase()) && !isOurs ? of(`${name}=${value}`) : [];
    });
  });
}
