import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { COOKIE } from '../../server/access/visitor.ts';
import { somePdf } from '../pictures.ts';
import { type Site, TOKENS } from './demo-site.ts';
import { bodyOfForm, discover, type Found, type FoundForm, pairsOf, type SentFile, sendForm } from './discover.ts';
import { isThorough, measured } from './trials.ts';

// A listening server, real sockets, a ledger in a file: the same form sent many times at once, and many who want the same.

const AT_ONCE = 20;

let site: Site;
let found: Found;
let origin: string;
beforeAll(async () => {
  ({ site, found } = await discover('demo'));
  origin = await site.app.listen({ host: '127.0.0.1', port: 0 });
}, 300_000);
afterAll(() => site.close());

type Pairs = readonly (readonly [string, string])[];

/** Posts a form over a socket of its own. */
async function post(form: FoundForm, pairs: Pairs, files: readonly SentFile[]) {
  const { type, payload } = bodyOfForm(form, pairs, files);
  const headers = { 'content-type': type, origin, cookie: `${COOKIE}=${TOKENS.own}` };
  const body = typeof payload === 'string' ? payload : new Uint8Array(payload);
  const answer = await fetch(origin + form.url, { method: 'POST', headers, body, redirect: 'manual' });
  return { status: answer.status, location: answer.headers.get('location') ?? '', body: await answer.text() };
}

/** Rows of all tables, and what they say of themselves: the search keeps its words in tables of its own. */
function rowsOfAll(): number {
  const { sqlite } = site.ledger.db;
  const tables = sqlite
    .prepare(
      "select name from sqlite_schema where type = 'table' and name not like 'sqlite_%' and name not like 'found%'",
    )
    .pluck()
    .all() as string[];
  return sqlite
    .prepare(`select ${tables.map((table) => `(select count(*) from "${table}")`).join(' + ')}`)
    .pluck()
    .get() as number;
}

/** What a form takes besides its fields, so that it is taken. */
const filesFor = (form: FoundForm): SentFile[] =>
  form.isInParts && form.route.endsWith('/photos')
    ? [{ field: 'photos', name: 'ticket.pdf', bytes: somePdf(form.url) }]
    : [];

const GRADES = 'name,family,quoted_per\r\nTin,precious,lb\r\n';
const pairsFor = (form: FoundForm): Pairs =>
  form.route === '/import'
    ? [
        ['kind', 'grades'],
        ['step', 'import'],
        ['content', Buffer.from(GRADES).toString('base64url')],
        ['requestKey', 'import-at-once'],
      ]
    : pairsOf(form, form.good);

/** Whether a form is taken as it was filled in, and how many rows that makes. */
async function onceAlone(form: FoundForm): Promise<number | null> {
  site.putBack(form.on);
  const before = rowsOfAll();
  const { status, isChanged } = await sendForm(site, form, pairsFor(form), filesFor(form));
  return status === 303 && isChanged ? rowsOfAll() - before : null;
}

/** Signing in and setting a passphrase are no posts to the ledger: whoever is there first ends what the others have. */
const isOfAccess = ({ route }: FoundForm): boolean => /^\/(sign-|pairings|setup\/devices)/.test(route);

test('the same form sent twenty times at once posts once, and all twenty are led to the same place', async () => {
  const tried: string[] = [];
  const wrong: string[] = [];
  for (const [route, forms] of found.forms) {
    let hasTried = false;
    for (const form of forms.filter((each) => !isOfAccess(each))) {
      if (hasTried && !isThorough) break;
      const alone = await onceAlone(form);
      if (alone === null) continue;
      hasTried = true;
      site.putBack(form.on);
      const before = rowsOfAll();
      const answers = await Promise.all(
        Array.from({ length: AT_ONCE }, () => post(form, pairsFor(form), filesFor(form))),
      );
      const places = new Set(answers.map(({ status, location }) => `${status} ${location}`));
      if (rowsOfAll() - before !== alone) wrong.push(`${form.url}: ${rowsOfAll() - before} rows, not ${alone}`);
      if (places.size !== 1 || answers[0]?.status !== 303) wrong.push(`${form.url}: ${[...places].join(', ')}`);
      if (isThorough) wrong.push(...site.broken());
    }
    if (hasTried) tried.push(route);
  }
  expect(wrong).toEqual([]);
  expect(site.broken()).toEqual([]);
  for (const route of MUST_BE_TRIED) expect(tried).toContain(route);
  measured('The same form 20 times at once', `${tried.length} kinds of forms, each posted once`);
}, 600_000);

/** The forms that stand for all: found by the walk and taken. Should one not be taken any more, the walk fills it in wrongly. */
const MUST_BE_TRIED = [
  ...[
    '/in-weights',
    '/in-weights/:id/undo',
    '/in-weights/:id/corrections',
    '/bins/:code/recounts',
    '/bins/:code/transfers',
  ],
  ...[
    '/prices/boards',
    '/manifests',
    '/manifests/:id/weights',
    '/manifests/:id/loading',
    '/manifests/:id/set-aside',
    '/tickets',
  ],
  ...[
    '/tickets/:id/replacements',
    '/tickets/:id/take-backs',
    '/tickets/:id/photos',
    '/loads/:id/return',
    '/import',
    '/setup/ledger',
  ],
  ...[
    '/setup/grades',
    '/setup/bins',
    '/setup/containers',
    '/setup/scales',
    '/setup/yards',
    '/setup/scales/:id/checks',
    '/trail/:id/put-back',
  ],
];

describe('twenty who want the same thing at once', () => {
  /** A form of this route that is taken when it is sent alone. */
  async function takenFormOf(route: string): Promise<FoundForm> {
    for (const form of found.forms.get(route) ?? []) if ((await onceAlone(form)) !== null) return form;
    throw new Error(`no form of ${route} is taken`);
  }
  const withOwnKey = (pairs: Pairs, index: number): Pairs =>
    pairs.map(([name, value]) => [name, name === 'requestKey' ? `at-once-${index}-of-many` : value]);

  /** Sends a form from each, with changes of their own. @returns how many won, and what the others were told */
  async function each(form: FoundForm, change: (pairs: Pairs, index: number) => Pairs = (pairs) => pairs) {
    site.putBack(form.on);
    const answers = await Promise.all(
      Array.from({ length: AT_ONCE }, (_, index) => post(form, change(withOwnKey(pairsFor(form), index), index), [])),
    );
    expect(site.broken()).toEqual([]);
    const lost = answers.filter(({ status }) => status === 422);
    const told = lost.map(({ body }) => /<div class="problems"[\s\S]*?<\/ul>/.exec(body)?.[0] ?? 'nothing');
    const sentences = new Set(
      told.map((text) =>
        text
          .replace(/<[^>]*>/g, ' ')
          .replace(/\s+/g, ' ')
          .trim(),
      ),
    );
    return { won: answers.filter(({ status }) => status === 303).length, lost: lost.length, sentences: [...sentences] };
  }

  test('a ticket is replaced once; the others hear that it was replaced already', async () => {
    const form = await takenFormOf('/tickets/:id/replacements');
    const { won, lost, sentences } = await each(form);
    expect([won, lost]).toEqual([1, AT_ONCE - 1]);
    expect(sentences.join(' ')).toMatch(/was replaced already/);
    expect(sentences.length).toBe(1);
  });

  test('an in-weight is taken back once; the others hear that it was taken back already', async () => {
    const { won, lost, sentences } = await each(await takenFormOf('/in-weights/:id/undo'));
    expect([won, lost]).toEqual([1, AT_ONCE - 1]);
    expect(sentences.join(' ')).toMatch(/already taken back/);
  });

  test('a load of one draft weighed by all gets one weight; the others see both', async () => {
    const form = await takenFormOf('/manifests/:id/weights');
    const line = form.fields.find(({ name }) => /^gross-\d+$/.test(name))?.name ?? '';
    const { won, lost, sentences } = await each(form, (pairs, index) =>
      pairs.map(([name, value]) => [name, name === line ? `${40 + index}` : value]),
    );
    expect([won, lost]).toEqual([1, AT_ONCE - 1]);
    expect(sentences.join(' ')).toMatch(/This draft was changed meanwhile/);
  });

  test('a manifest is loaded once; the others hear that it is no draft any more', async () => {
    const form = await takenFormOf('/manifests/:id/loading');
    const { won, lost, sentences } = await each(form);
    expect([won, lost]).toEqual([1, AT_ONCE - 1]);
    expect(sentences.every((sentence) => sentence.length > 20)).toBe(true);
  });
});
