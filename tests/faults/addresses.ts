import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { ledgerExports, reportExports } from '../../server/files/exports/names.ts';
import type { Found } from './discover.ts';
import { encodedText, hostileText, mutated, someDay, someFigure } from './hostile.ts';

// Addresses of pages under any name and with any query.

const server = fileURLToPath(new URL('../../server', import.meta.url));
const sources = readdirSync(server, { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('.ts'));

/** Whatever the server's code might read from a query by name, so that a name no link has is tried too. */
export function namesInCode(): string[] {
  const pattern =
    /\b(?:query|typed|queryOf\(request\))\.(\w+)|\.(?:raw|day|text|weight|optionalWeight|id|ticked)\('(\w+)'/g;
  const names = sources.flatMap((name) =>
    [...readFileSync(join(server, name), 'utf8').matchAll(pattern)].map((match) => match[1] ?? match[2] ?? ''),
  );
  return [...new Set(names)].filter((name) => name !== '');
}

/** Files to take out have no pages that lead to each of them under each of their filters. */
const EXPORTS = [...ledgerExports, ...reportExports].map(({ name }) => `/export/${name}.csv`);

const someMonth = someDay.map((day) => day.slice(0, 7));

export function addressOf({ queries, pages }: Found, route: string, names: readonly string[]): fc.Arbitrary<string> {
  const known = queries.get(route) ?? new Map<string, Set<string>>();
  const seen = [...(route === '/export/:file' ? EXPORTS : (pages.get(route) ?? [route]))];
  const hostilePath = fc
    .array(
      hostileText.map((text) => text.slice(0, 300)),
      { minLength: 2, maxLength: 2 },
    )
    .map((texts) => {
      let at = 0;
      return route.replace(/:\w+/g, () => encodedText(texts[at++ % texts.length] ?? ''));
    });
  const path = fc.oneof({ arbitrary: fc.constantFrom(...seen), weight: 5 }, { arbitrary: hostilePath, weight: 1 });
  const valueFor = (name: string) => {
    const usual = fc.constantFrom(...(known.get(name) ?? ['1']));
    return fc.oneof(
      { arbitrary: usual, weight: 3 },
      { arbitrary: fc.oneof(someDay, someMonth, someFigure, fc.nat(60).map(String)), weight: 2 },
      { arbitrary: hostileText.map((text) => text.slice(0, 9000)), weight: 3 },
      { arbitrary: mutated(usual), weight: 1 },
    );
  };
  const own = [...known.keys()];
  const name =
    own.length === 0
      ? fc.constantFrom(...names)
      : fc.oneof(
          { arbitrary: fc.constantFrom(...own), weight: 4 },
          { arbitrary: fc.constantFrom(...names), weight: 1 },
        );
  const pair = name.chain((each) => valueFor(each).map((value) => `${encodedText(each)}=${encodedText(value)}`));
  const odd = fc.constantFrom(
    '%',
    '%zz=%zz',
    '__proto__=1',
    '__proto__[x]=1',
    'constructor=1',
    '&&&',
    '=',
    'page',
    'a'.repeat(5000),
  );
  const query = fc.array(fc.oneof({ arbitrary: pair, weight: 9 }, { arbitrary: odd, weight: 1 }), { maxLength: 5 });
  return fc.tuple(path, query).map(([where, list]) => (list.length === 0 ? where : `${where}?${list.join('&')}`));
}
