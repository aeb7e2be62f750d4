import type { FastifyInstance } from 'fastify';
import { noteHomeAddress, setFirstPassphrase } from '../../server/access/acts.ts';
import { hashPassphrase } from '../../server/access/passphrase.ts';
import { insertDevice } from '../../server/access/queries.ts';
import { hashToken } from '../../server/access/token.ts';
import { keepFiles } from '../../server/attachments/acts.ts';
import { Aside } from '../../server/attachments/aside.ts';
import { readSentFile } from '../../server/attachments/forms.ts';
import type { Ledger } from '../../server/context.ts';
import { recordCheck } from '../../server/scales/acts.ts';
import { LOOKED_AT } from '../browser/pages.ts';
import { lb } from '../helper.ts';
import { somePdf } from '../pictures.ts';
import { readQrIn } from '../qr.ts';
import { type Answer, CLOCK, fillWithDemo, formFields, openSite, type Site, TOKENS, type Who } from './demo-site.ts';
import { encoded, PASSPHRASE } from './hostile.ts';
import { formsIn, linksIn, type PageForm } from './page-forms.ts';
import { trials } from './trials.ts';

// Walks through the pages of the real app as a person does: follows every link and sends every form, until no new page
// and no new form comes up. So nobody has to say which forms there are.

export interface FoundForm extends PageForm {
  readonly who: Who;
  /** Which copy of the ledger has it. */
  readonly on: string;
  /** The route that its address is of: /bins/:code/recounts. */
  readonly route: string;
  /** What was put into its fields, in their order, when it was taken, or when nothing more could be put right. */
  readonly good: readonly (string | null)[];
}

export interface Found {
  /** By route. */
  readonly forms: Map<string, FoundForm[]>;
  /** Addresses that were asked for, without their queries, by the route that answers GET. */
  readonly pages: Map<string, Set<string>>;
  /** What stood in the queries of links and of forms that ask, by route and then by name. */
  readonly queries: Map<string, Map<string, Set<string>>>;
}

/** Routes as the app lists them, longest pattern of fixed words first. */
export interface Routes {
  readonly posts: readonly string[];
  readonly gets: readonly string[];
  of(method: 'get' | 'post', url: string): string | undefined;
}

const patternOf = (route: string): RegExp =>
  new RegExp(`^${route.replace(/[.*+?^${}()|[\]\\]/g, '\\$&').replace(/:\w+/g, '[^/]+')}$`);

/** The app's own list: a tree, one line for each piece of an address. */
export function routesOf(app: FastifyInstance): Routes {
  const above: string[] = [];
  const found = app
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((line) => {
      const [, indent = '', piece = '', methods = ''] = /^([│ ]*)[├└]── (\S*)(?: \((.*)\))?$/.exec(line) ?? [];
      if (piece === '') return [];
      const depth = indent.length / 4;
      const route = (depth === 0 ? '' : (above[depth - 1] ?? '')) + piece;
      above[depth] = route;
      return [{ route, methods: methods.split(', ') }];
    });
  const taking = (method: string) => found.filter(({ methods }) => methods.includes(method)).map(({ route }) => route);
  const [posts, gets] = [taking('POST'), taking('GET')];
  // A fixed word is more than any word: /tickets/new is not ticket "new".
  const byWords = (a: string, b: string) => a.split(':').length - b.split(':').length;
  const patterns = (routes: readonly string[]) =>
    routes.toSorted(byWords).map((route) => [route, patternOf(route)] as const);
  const sorted = { get: patterns(gets), post: patterns(posts) };
  return {
    posts,
    gets,
    of: (method, url) => sorted[method].find(([, pattern]) => pattern.test(url.split('?')[0] ?? ''))?.[0],
  };
}

const MOST_OF_A_KIND = trials(2, 4);
/** Forms of one route with the same fields: on another document they may be refused for other reasons. */
const ALIKE = trials(1, 2);
/** What nobody saw before a form was sent is looked at in any case, but not all of a long list. */
const MOST_NEW = 4;
const ROUNDS = 6;
/** How often a form is put right and sent again. */
const MOST_ATTEMPTS = 8;

/** Two forms of one route are of one kind when they have the same fields, apart from numbers in their names. */
const kindOf = ({ fields }: PageForm): string =>
  [
    ...new Set(
      fields.map(
        ({ name, kind, value }) =>
          `${kind} ${name.replace(/\d+/g, 'N')} ${name === 'change' ? value?.replace(/\d+/g, 'N') : ''}`,
      ),
    ),
  ].join();

class Walk {
  readonly found: Found = { forms: new Map(), pages: new Map(), queries: new Map() };
  readonly #site: Site;
  readonly #routes: Routes;
  readonly #queue: { url: string; who: Who }[] = [];
  readonly #asked = new Map<string, number>();
  readonly #sent = new Set<FoundForm>();
  readonly #seen = new Set<string>();

  constructor(site: Site) {
    this.#site = site;
    this.#routes = routesOf(site.app);
  }

  /** @param isNew whether it came up by a form that was sent: then it is looked at, however many there are of it */
  lookAt(url: string, who: Who = 'own', isNew = false): void {
    const [path = '', query = ''] = url.split('?');
    const route = this.#routes.of('get', path);
    if (route === undefined) return;
    const names = [...new URLSearchParams(query)].map(([name, value]) => {
      this.#note(this.#queriesOf(route), name, value);
      return name;
    });
    const kind = `${who} ${route}?${names.sort().join()}`;
    const times = this.#asked.get(kind) ?? 0;
    if ((times >= MOST_OF_A_KIND && !isNew) || this.#asked.has(`${who} ${url}`)) return;
    this.#asked.set(kind, times + 1);
    this.#asked.set(`${who} ${url}`, 1);
    this.#note(this.found.pages, route, path);
    this.#queue.push({ url, who });
  }

  #note(kept: Map<string, Set<string>>, key: string, value: string): void {
    const values = kept.get(key) ?? new Set();
    if (values.size < 40) kept.set(key, values.add(value));
  }

  async readOn(isNew = false): Promise<void> {
    for (let next = this.#queue.shift(); next !== undefined; next = this.#queue.shift()) {
      this.take(await this.#site.get(next.url, next.who), next.url, next.who, isNew);
    }
  }

  /** Takes in what an answer leads to. */
  take(answer: Answer, url: string, who: Who, isNew = false): void {
    if (answer.location.startsWith('/')) this.lookAt(answer.location, who, isNew);
    const links = linksIn(answer.body).filter((link) => !this.#seen.has(link));
    for (const [index, link] of links.entries()) {
      this.#seen.add(link);
      this.lookAt(link, who, isNew && index < MOST_NEW);
    }
    for (const form of formsIn(answer.body, url)) {
      if (form.method === 'get') this.#noteQuery(form);
      else
        this.#keep({
          ...form,
          who,
          on: 'first',
          route: this.#routes.of('post', form.url) ?? form.url,
          good: valuesAsTheyCame(form),
        });
    }
  }

  #noteQuery({ url, fields }: PageForm): void {
    const queries = this.#queriesOf(this.#routes.of('get', url) ?? '');
    for (const { name, value, choices } of fields) {
      for (const each of [value ?? '', ...choices.slice(0, 8)]) this.#note(queries, name, each);
    }
  }

  #queriesOf(route: string): Map<string, Set<string>> {
    const queries = this.found.queries.get(route) ?? new Map<string, Set<string>>();
    this.found.queries.set(route, queries);
    return queries;
  }

  #keep(form: FoundForm): void {
    const known = this.found.forms.get(form.route) ?? [];
    const alike = known.filter((other) => kindOf(other) === kindOf(form) && other.who === form.who);
    if (alike.length >= ALIKE || alike.some((other) => other.url === form.url)) return;
    // A form that came up by what was sent is there on the ledger as it is by now, and not on the first one.
    const on = this.#sent.size === 0 ? 'first' : `with form ${form.route.replace(/\W+/g, '-')} ${known.length}`;
    if (on !== 'first') this.#site.keepAs(on);
    this.found.forms.set(form.route, [...known, { ...form, on }]);
  }

  /** Sends each form that was not sent yet, as a person might fill it in, and looks at what comes of it. */
  async sendAll(): Promise<void> {
    const forms = [...this.found.forms.values()].flat().filter((form) => !this.#sent.has(form));
    for (const form of forms) {
      this.#sent.add(form);
      await this.#fillIn(form);
      // Some forms end the session that the others need.
      if ((await this.#site.get('/')).status !== 200) this.#site.putBack();
    }
  }

  /** Sends a form as it came, and puts right what the answer says is wrong, until it is taken. */
  async #fillIn(form: FoundForm): Promise<void> {
    let current: PageForm = form;
    let values = valuesAsTheyCame(form);
    for (let attempt = 0; attempt < MOST_ATTEMPTS; attempt++) {
      const answer = await sendForm(this.#site, form, pairsOf(current, values));
      this.take(answer, form.url, form.who, true);
      await this.readOn(true);
      if (answer.status !== 422) break;
      current = formsIn(answer.body, form.url).find((again) => isSameWay(again, form)) ?? current;
      values = putRight(current, problemFieldsOf(answer.body), attempt);
    }
    Object.assign(form, { fields: current.fields, good: values });
  }
}

const valuesAsTheyCame = ({ fields }: PageForm): (string | null)[] =>
  fields.map(({ kind, value }) => (kind === 'secret' ? PASSPHRASE : value));

/** Whether two forms go to the same place by the same button. */
const isSameWay = (one: PageForm, other: PageForm): boolean =>
  one.method === other.method && one.url === other.url && one.fields.at(-1)?.value === other.fields.at(-1)?.value;

/** The ends of the fields' ids that the sentences above a form lead to; '' for one about the form as a whole. */
function problemFieldsOf(page: string): string[] {
  const summary = /<div class="problems"[\s\S]*?<\/ul>/.exec(page)?.[0] ?? '';
  return [...summary.matchAll(/<li>(?:<a href="#f-([^"]*)">)?/g)].map(([, id = '']) => id);
}

const FIGURES = ['34', '1', '2.2', ''];

/** What a person would try next in the fields that were named: another choice, a plain figure, a tick. */
const putRight = ({ fields }: PageForm, wrong: readonly string[], attempt: number): (string | null)[] =>
  fields.map(({ name, kind, value, choices }, index) => {
    const isOpen = kind === 'tick' || (kind === 'figure' && value === '');
    const isNamed = wrong.some((id) => id === name || id.endsWith(`-${name}`) || (id === '' && isOpen));
    if (kind === 'secret') return PASSPHRASE;
    if (!isNamed || kind === 'hidden' || kind === 'file') return value;
    if (kind === 'tick' || kind === 'list') return choices[(attempt + 1) % choices.length] ?? value;
    if (kind === 'day') return CLOCK.today();
    return kind === 'figure' ? (FIGURES[(attempt + index) % FIGURES.length] ?? '') : `Shed${attempt + 7}`;
  });

/** What a browser sends of a form that was filled in. */
export const pairsOf = ({ fields }: PageForm, values: readonly (string | null)[]): [string, string][] =>
  fields.flatMap(({ name }, index): [string, string][] => {
    const value = values[index] ?? null;
    return value === null || name === 'formToken' ? [] : [[name, value]];
  });

const BOUNDARY = 'fuzz-boundary';

export interface SentFile {
  field: string;
  name: string;
  bytes: Uint8Array;
}

/** The body of a form, written the way the form says; its files stand at the end. */
export function bodyOfForm(
  { who, isInParts }: Pick<FoundForm, 'who' | 'isInParts'>,
  typed: readonly (readonly [string, string])[],
  files: readonly SentFile[] = [],
): { type: string; payload: string | Buffer } {
  const pairs = [...formFields(who), ...typed];
  return isInParts
    ? { type: `multipart/form-data; boundary=${BOUNDARY}`, payload: partsOf(pairs, files) }
    : { type: 'application/x-www-form-urlencoded', payload: encoded(pairs) };
}

/** Sends a form as a browser does. */
export function sendForm(
  site: Site,
  form: Pick<FoundForm, 'url' | 'who' | 'isInParts'>,
  typed: readonly (readonly [string, string])[],
  files: readonly SentFile[] = [],
): Promise<Answer> {
  const { type, payload } = bodyOfForm(form, typed, files);
  return site.send({ method: 'POST', url: form.url, headers: { 'content-type': type }, payload }, form.who);
}

const quoted = (text: string): string => text.replace(/[\r\n"]/g, (sign) => encodeURIComponent(sign));

function partsOf(pairs: readonly (readonly [string, string])[], files: readonly SentFile[]): Buffer {
  const part = (head: string, content: Uint8Array) =>
    Buffer.concat([
      Buffer.from(`--${BOUNDARY}\r\ncontent-disposition: form-data; ${head}\r\n\r\n`),
      content,
      Buffer.from('\r\n'),
    ]);
  return Buffer.concat([
    ...pairs.map(([name, value]) => part(`name="${quoted(name)}"`, Buffer.from(value))),
    ...files.map(({ field, name, bytes }) =>
      part(`name="${quoted(field)}"; filename="${quoted(name)}"\r\ncontent-type: application/octet-stream`, bytes),
    ),
    Buffer.from(`--${BOUNDARY}--\r\n`),
  ]);
}

async function keepPaper(ledger: Ledger): Promise<void> {
  const aside = new Aside();
  const file = await readSentFile({ name: 'ticket.pdf', bytes: somePdf('a') }, aside);
  keepFiles(ledger, { kind: 'ticket', ids: [6] }, [file], 'The yard’s ticket');
  aside.close();
}

/** A scale that is found off may be adjusted. */
function checkScaleOff(ledger: Ledger): void {
  const weighed = {
    weightTyped: '20',
    readingTyped: '21',
    unit: 'lb',
    weightUg: lb('20'),
    readingUg: lb('21'),
  } as const;
  recordCheck(ledger, { scaleId: 1, checkedOn: CLOCK.today(), ...weighed, isAdjusted: false, note: '' });
}

/** The ledgers to walk through: one with content, one with nothing, and one that asks who comes. */
export const WORLDS = {
  async demo(ledger: Ledger) {
    fillWithDemo(ledger);
    await keepPaper(ledger);
    checkScaleOff(ledger);
  },
  empty: () => undefined,
  async locked(ledger: Ledger) {
    noteHomeAddress(ledger, 'http://192.168.7.20:4870');
    noteHomeAddress(ledger, 'http://192.168.7.31:4870');
    setFirstPassphrase(ledger, await hashPassphrase(PASSPHRASE));
    for (const [name, token] of [
      ['Computer', TOKENS.own],
      ['Phone', 'fuzz-phone-'.padEnd(43, '0')],
    ] as const) {
      const device = { name, tokenHash: hashToken(token), letInBy: 'passphrase' } as const;
      insertDevice(ledger.db, { ...device, at: CLOCK.now(), on: CLOCK.today() });
    }
  },
} satisfies Record<string, (ledger: Ledger) => void | Promise<void>>;

export type WorldName = keyof typeof WORLDS;

/** Opens one of the ledgers and walks through it; the ledger is then as it was at first. */
export async function discover(world: WorldName): Promise<{ site: Site; found: Found; routes: Routes }> {
  const site = await openSite(WORLDS[world]);
  const walk = new Walk(site);
  for (const url of ['/', ...Object.values(LOOKED_AT).flat()]) walk.lookAt(url, 'own', true);
  if (world === 'locked') {
    for (const url of ['/', '/sign-in', '/sign-in?to=%2Fprices']) walk.lookAt(url, 'stranger');
    walk.lookAt(await pairingAddress(site), 'stranger');
  }
  await walk.readOn();
  for (let round = 0; round < ROUNDS; round++) await walk.sendAll();
  site.putBack();
  return { site, found: walk.found, routes: routesOf(site.app) };
}

/** Where the code on the computer's screen leads a phone. */
async function pairingAddress(site: Site): Promise<string> {
  await sendForm(site, { url: '/setup/devices/pairing', who: 'own', isInParts: false }, []);
  const code = await readQrIn((await site.get('/setup/devices/pairing')).body);
  return code === null ? '/sign-in' : new URL(code).pathname;
}
