import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { addressOf, namesInCode } from './addresses.ts';
import type { Answer, Site } from './demo-site.ts';
import {
  discover,
  type Found,
  type FoundForm,
  pairsOf,
  type Routes,
  sendForm,
  WORLDS,
  type WorldName,
} from './discover.ts';
import { fitting, hostileText, MARK, mutated } from './hostile.ts';
import { isThorough, measured, trials } from './trials.ts';
import { slowest, type Watch } from './watch.ts';

// Every form and every address of the server, found by walking through its pages, with anything in it: no fault, nothing
// that is refused leaves a trace, nobody waits, and the ledger still adds up.

/** What no page of these ledgers leads to, and why. */
const WITHOUT_FORM = [
  // A device signs out on the page of the devices, at this computer; this one is for a program.
  '/sign-out',
  // They start processes and write into the folder they are told; routes/backups.test.ts tries their fields.
  '/setup/backups',
  '/setup/backups/trial',
  '/setup/backups/folder',
  // Only a ledger that lost its end has this one, and nothing is typed into it; routes/last-entry.test.ts.
  '/last-entry/acceptance',
];

const worlds = new Map<WorldName, { site: Site; found: Found; routes: Routes }>();
beforeAll(async () => {
  for (const name of Object.keys(WORLDS) as WorldName[]) worlds.set(name, await discover(name));
}, 300_000);
afterAll(async () => {
  for (const { site } of worlds.values()) await site.close();
});

test('every address that takes a post is reached by a form of some page', () => {
  const reached = new Set([...worlds.values()].flatMap(({ found }) => [...found.forms.keys()]));
  const [{ routes } = { routes: null }] = worlds.values();
  expect(routes?.posts.filter((route) => !reached.has(route))).toEqual(WITHOUT_FORM);
  expect([...reached].filter((route) => !routes?.posts.includes(route))).toEqual([]);
});

/** One thing done to one field. */
const change = fc.record({
  field: fc.nat(),
  how: fc.constantFrom(
    'hostile',
    'hostile',
    'hostile',
    'mutated',
    'fitting',
    'fitting',
    'left out',
    'twice',
    'renamed',
  ),
  hostile: hostileText,
  name: fc.constantFrom(
    '__proto__',
    'constructor',
    'x'.repeat(10_000),
    '',
    'gross-1e9',
    'loads-0',
    'paidAs-999999',
    'lineCount',
    'requestKey',
  ),
});
type Change = typeof change extends fc.Arbitrary<infer T> ? T : never;

interface Filled {
  readonly form: FoundForm;
  readonly pairs: readonly (readonly [string, string])[];
}

/** A form with what fits into it, then with up to four things done to its fields. */
function filled(forms: readonly FoundForm[]): fc.Arbitrary<Filled> {
  return fc.constantFrom(...forms).chain((form) => {
    const { fields } = form;
    const some = fields
      .map((field, index) => ({ field, index }))
      .filter(({ field }) => field.kind !== 'hidden' || field.name === 'requestKey');
    const any = some.length === 0 ? fields.map((field, index) => ({ field, index })) : some;
    const pick = fc.oneof(
      { arbitrary: fc.constantFrom(...any), weight: 4 },
      { arbitrary: fc.nat(fields.length - 1).map((index) => ({ field: fields[index], index })), weight: 1 },
    );
    const fitted = pick.chain(({ field, index }) =>
      field === undefined ? fc.constant({ index, fit: null }) : fitting(field).map((fit) => ({ index, fit })),
    );
    const changes = fc.array(fc.tuple(change, fitted, mutated(fc.constant(''))), { minLength: 1, maxLength: 4 });
    return changes.chain((list) =>
      fc.tuple(...list.map(([, { index }]) => mutated(fc.constant(form.good[index] ?? '')))).map((texts) => ({
        form,
        pairs: list.reduce<readonly (readonly [string, string])[]>(
          (pairs, [one, { index, fit }], at) => changed(form, pairs, one, { index, fit, text: texts[at] ?? '' }),
          pairsOf(form, form.good),
        ),
      })),
    );
  });
}

function changed(
  { fields }: FoundForm,
  pairs: readonly (readonly [string, string])[],
  { how, hostile, name: other }: Change,
  { index, fit, text }: { index: number; fit: string | null; text: string },
): readonly (readonly [string, string])[] {
  const name = fields[index]?.name ?? '';
  if (how === 'twice') return [...pairs, [name, hostile]];
  if (how === 'renamed') return [...pairs, [other, hostile]];
  const rest = pairs.filter(([each]) => each !== name);
  if (how === 'left out' || (how === 'fitting' && fit === null)) return rest;
  return [...rest, [name, how === 'hostile' ? hostile : how === 'mutated' ? text : (fit ?? '')]];
}

/** 400 for a form in parts whose field has a name that no object may have. */
const EXPECTED = [200, 303, 400, 401, 403, 404, 410, 413, 415, 422, 429];

/** What is wrong with an answer, or null. */
function faultOf(answer: Answer): string | null {
  if (!EXPECTED.includes(answer.status)) return `answered ${answer.status}`;
  if (answer.status !== 303 && answer.isChanged) return `answered ${answer.status} and wrote something down`;
  if (answer.body.includes(MARK)) return 'let markup through';
  return null;
}

let keys = 0;
/** The form's key is its own again each time, as on a page that was just opened, unless it was what was changed. */
const withFreshKey = ({ form, pairs }: Filled): Filled => {
  const good = form.good[form.fields.findIndex(({ name }) => name === 'requestKey')];
  keys += 1;
  return {
    form,
    pairs: pairs.map(([name, value]) => [name, name === 'requestKey' && value === good ? `fuzz-key-${keys}` : value]),
  };
};

async function tryOnce(site: Site, watch: Watch, filling: Filled): Promise<void> {
  const { form, pairs } = withFreshKey(filling);
  const send = () => sendForm(site, form, pairs);
  const answer = await watch.once(`POST ${form.url}`, send);
  expect(faultOf(answer)).toBeNull();
  if (answer.status !== 303 || !answer.location.startsWith('/')) return;
  const next = await watch.once(`GET ${answer.location}`, () => site.get(answer.location, form.who));
  expect([answer.location, next.status < 400]).toEqual([answer.location, true]);
}

/** As many posts to a route as it has fields to get wrong, out of so many in all. */
function shares(forms: ReadonlyMap<string, readonly FoundForm[]>, cases: number): Map<string, number> {
  const weights = [...forms].map(([route, list]) => {
    const fields = Math.min(40, 4 + Math.max(...list.map((form) => form.fields.length)));
    // A passphrase takes a quarter of a second to look at, on another thread, as it should.
    const isSecret = list.some((form) => form.fields.some(({ kind }) => kind === 'secret'));
    return [route, isSecret ? 2 : fields] as const;
  });
  const sum = weights.reduce((all, [, weight]) => all + weight, 0);
  return new Map(weights.map(([route, weight]) => [route, Math.ceil((cases * weight) / sum)]));
}

const CASES: Readonly<Record<WorldName, readonly [few: number, all: number]>> = {
  demo: [65, 7000],
  empty: [10, 300],
  locked: [10, 300],
};
const CASES_A_LEDGER = 40;

test.each(Object.keys(WORLDS) as WorldName[])('whatever is sent with the forms of the %s ledger', async (name) => {
  const { site, found } = worlds.get(name) as { site: Site; found: Found };
  const watch = slowest();
  let posts = 0;
  for (const [route, cases] of shares(found.forms, trials(...CASES[name]))) {
    const forms = found.forms.get(route) ?? [];
    for (const on of new Set(forms.map((form) => form.on))) {
      const own = forms.filter((form) => form.on === on);
      const numRuns = Math.ceil((cases * own.length) / forms.length);
      site.putBack(on);
      let sincePutBack = 0;
      await fc.assert(
        fc.asyncProperty(filled(own), async (filling) => {
          posts += 1;
          sincePutBack += 1;
          if (sincePutBack % CASES_A_LEDGER === 0) {
            expect(site.broken()).toEqual([]);
            site.putBack(on);
          }
          await tryOnce(site, watch, filling);
        }),
        { numRuns, seed: 20251125, endOnFailure: !isThorough },
      );
      if (isThorough) expect(site.broken()).toEqual([]);
    }
  }
  measured(`Forms of the ${name} ledger`, `${posts} posts, ${watch.said()}`);
});

const PAGES_EXPECTED = [200, 303, 304, 400, 403, 404, 410, 414, 422];

test.each(['demo', 'locked'] as const)('whatever an address of the %s ledger says', async (name) => {
  const { site, found, routes } = worlds.get(name) as { site: Site; found: Found; routes: Routes };
  const names = namesInCode();
  const watch = slowest();
  let asked = 0;
  site.putBack();
  for (const route of routes.gets.filter((each) => !each.startsWith('/static/'))) {
    // A page with many filters has more that can be said wrongly.
    const weight = 1 + Math.min(8, found.queries.get(route)?.size ?? 0);
    const numRuns = name === 'demo' ? trials(1 + weight, 12 * weight) : trials(1, 3);
    await fc.assert(
      fc.asyncProperty(addressOf(found, route, names), fc.constantFrom('own', 'own', 'stranger'), async (url, who) => {
        asked += 1;
        const answer = await watch.once(`GET ${url}`, () => site.get(url, who));
        expect([answer.status, PAGES_EXPECTED.includes(answer.status)]).toEqual([answer.status, true]);
        expect(answer.isChanged).toBe(false);
        expect(answer.body.includes(MARK)).toBe(false);
      }),
      { numRuns, seed: 20251125 },
    );
  }
  measured(`Addresses of the ${name} ledger`, `${asked} asked for, ${watch.said()}`);
});
