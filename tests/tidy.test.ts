import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';

// The shape of the house, held by a test: what may import what, no leftovers, nothing dead, nothing too long.

const root = fileURLToPath(new URL('..', import.meta.url));

function filesBelow(folder: string): string[] {
  return readdirSync(join(root, folder), { withFileTypes: true }).flatMap((entry) => {
    const path = `${folder}/${entry.name}`;
    return entry.isDirectory() ? filesBelow(path) : [path];
  });
}

const source = (path: string): string => readFileSync(join(root, path), 'utf8');
const sources = ['server', 'views', 'seed', 'bench', 'scripts']
  .flatMap(filesBelow)
  .filter((path) => /\.(ts|mjs)$/.test(path) && !path.endsWith('.d.ts'));
const everything = [...sources, ...filesBelow('tests').filter((path) => path.endsWith('.ts'))];

/** Scripts that a file runs in processes of their own. */
const runBy = (path: string): string[] =>
  [...source(path).matchAll(/new URL\('(\.[^']+\.ts)', import\.meta\.url\)/g)].map(([, target]) =>
    relative(root, join(root, dirname(path), target ?? '')),
  );

/** Paths a file imports from this project; types alone do not count when `values` is set. */
function importsOf(path: string, { values }: { values: boolean }): string[] {
  const pattern = /^(?:import|export)\s+(type\s+)?(?:[^'";]*?\sfrom\s+)?'(\.[^']+)'/gms;
  return [...source(path).matchAll(pattern)]
    .filter(([, typeOnly]) => !(values && typeOnly))
    .map(([, , target]) => relative(root, join(root, dirname(path), target ?? '')));
}

const LAYERS = ['pure', 'compute', 'queries', 'acts', 'forms', 'routes', 'top'] as const;
const AREAS = [
  'access',
  'attachments',
  'setup',
  'ledger',
  'items',
  'prices',
  'manifests',
  'tickets',
  'reconciliation',
  'layers',
  'scales',
  'reports',
  'earnings',
  'bench',
  'home',
  'files',
  'find',
  'history',
  'backups',
] as const;

/** Files whose name does not say their layer. */
const LAYER_OF: Record<string, (typeof LAYERS)[number]> = {
  'server/refusal.ts': 'pure',
  'server/clock.ts': 'pure',
  'server/config.ts': 'pure',
  'server/request-key.ts': 'pure',
  'server/kept-pages.ts': 'pure',
  'server/static-files.ts': 'pure',
  'server/styles.ts': 'pure',
  'server/scripts.ts': 'pure',
  'server/access/network.ts': 'pure',
  'server/access/passphrase.ts': 'pure',
  'server/access/token.ts': 'pure',
  'server/access/tries.ts': 'pure',
  'server/access/pairing.ts': 'pure',
  'server/access/terminal-qr.ts': 'pure',
  'server/access/visitor.ts': 'queries',
  'server/access/carried.ts': 'forms',
  'server/access/door.ts': 'forms',
  'server/access/guard.ts': 'routes',
  'server/access/home-network.ts': 'top',
  'server/reading.ts': 'compute',
  'server/setup/tag-address.ts': 'compute',
  'server/history/change.ts': 'compute',
  'server/history/restoring.ts': 'acts',
  'server/setup/removals.ts': 'acts',
  'server/setup/change-notes.ts': 'queries',
  'server/tickets/take-back.ts': 'acts',
  'server/context.ts': 'queries',
  'server/last-entry.ts': 'queries',
  'server/trail.ts': 'queries',
  'server/web.ts': 'forms',
  'server/uploads.ts': 'forms',
  'server/attachments/kinds.ts': 'compute',
  'server/attachments/names.ts': 'compute',
  'server/attachments/jpeg.ts': 'compute',
  'server/attachments/png.ts': 'compute',
  'server/attachments/picture-size.ts': 'compute',
  'server/attachments/decode.ts': 'queries',
  'server/attachments/photo.ts': 'queries',
  'server/attachments/aside.ts': 'queries',
  'server/attachments/taking.ts': 'routes',
  'server/prices/standing.ts': 'compute',
  'server/bench/conductor.ts': 'compute',
  'server/bench/strip-or-sell.ts': 'compute',
  'server/bench/metals.ts': 'pure',
  'server/bench/density.ts': 'compute',
  'server/bench/parting.ts': 'compute',
  'server/bench/stripping.ts': 'acts',
  'server/bench/recovery.ts': 'forms',
  'server/bench/wire-question.ts': 'forms',
  'server/bench/metal-question.ts': 'forms',
  'server/tickets/line-changes.ts': 'compute',
  'server/tickets/entry.ts': 'forms',
  'server/tickets/questions.ts': 'forms',
  'server/reconciliation/figures.ts': 'compute',
  'server/scales/tolerance.ts': 'compute',
  'server/scales/due.ts': 'compute',
  'server/scales/check-errors.ts': 'compute',
  'server/scales/whose.ts': 'compute',
  'server/scales/book-weight.ts': 'queries',
  'server/scales/comparisons.ts': 'queries',
  'server/scales/query-weight.ts': 'queries',
  'server/layers/lines.ts': 'queries',
  'server/layers/replay.ts': 'queries',
  'server/layers/stored.ts': 'queries',
  'server/layers/shares.ts': 'queries',
  'server/layers/settle.ts': 'queries',
  'server/layers/verify.ts': 'queries',
  'server/reports/spread.ts': 'compute',
  'server/earnings/by-kind.ts': 'compute',
  'server/earnings/learned.ts': 'compute',
  'server/earnings/past-sales.ts': 'compute',
  'server/earnings/worth.ts': 'compute',
  'server/earnings/break-even.ts': 'compute',
  'server/earnings/answer.ts': 'compute',
  'server/reports/scale-report.ts': 'forms',
  'server/errors.ts': 'routes',
  'server/items/cautions.ts': 'compute',
  'server/items/kind-fields.ts': 'compute',
  'server/items/kind-queries.ts': 'queries',
  'server/items/kind-acts.ts': 'acts',
  'server/items/kind-forms.ts': 'forms',
  'server/ledger/transfers.ts': 'queries',
  'server/ledger/bin-ledger.ts': 'queries',
  'server/items/minutes.ts': 'compute',
  'server/items/mass-balance.ts': 'compute',
  'server/items/output-rows.ts': 'compute',
  'server/items/part-sale-figures.ts': 'compute',
  'server/items/work-queries.ts': 'queries',
  'server/items/teardown-queries.ts': 'queries',
  'server/items/part-sale-queries.ts': 'queries',
  'server/items/work-acts.ts': 'acts',
  'server/items/teardown-acts.ts': 'acts',
  'server/items/part-sale-acts.ts': 'acts',
  'server/items/teardown-forms.ts': 'forms',
  'server/items/part-sale-forms.ts': 'forms',
  'server/items/teardown-pages.ts': 'forms',
  'server/manifests/draft-version.ts': 'compute',
  'server/manifests/meanwhile.ts': 'forms',
  'server/manifests/manifest-page.ts': 'routes',
  'server/ledger/in-weight-list.ts': 'queries',
  'server/items/list.ts': 'queries',
  'server/items/change-words.ts': 'queries',
  'server/items/item-page.ts': 'routes',
  'server/files/journal/text.ts': 'compute',
  'server/files/journal/head.ts': 'queries',
  'server/files/journal/money.ts': 'queries',
  'server/files/journal/prices.ts': 'queries',
  'server/files/journal/journal.ts': 'forms',
  'server/find/words.ts': 'compute',
  'server/find/hit.ts': 'compute',
  'server/find/set-up.ts': 'forms',
  'server/find/documents.ts': 'forms',
  'server/find/day.ts': 'forms',
  'server/manifests/loading.ts': 'acts',
  'server/manifests/returns.ts': 'acts',
  'server/backups/files.ts': 'queries',
  'server/backups/folder.ts': 'queries',
  'server/backups/restore-error.ts': 'pure',
  'server/backups/examining.ts': 'acts',
  'server/backups/making.ts': 'acts',
  'server/backups/unpacking.ts': 'acts',
  'server/backups/restoring.ts': 'acts',
  'server/backups/archive.ts': 'forms',
  'server/backups/keeper.ts': 'acts',
  'server/backups/apart.ts': 'top',
  'server/backups/beside.ts': 'queries',
  'server/backups/copy.ts': 'queries',
  'server/backups/swap.ts': 'queries',
  'server/backups/handover.ts': 'queries',
  'server/app.ts': 'top',
  'server/bare-answers.ts': 'pure',
  'server/patience.ts': 'top',
  'server/demo.ts': 'top',
  'server/greeting.ts': 'top',
  'server/main.ts': 'top',
  'server/start.ts': 'top',
  'server/stop.ts': 'top',
};

function layerOf(path: string): number {
  const name = path.split('/').at(-1) ?? '';
  const layer =
    LAYER_OF[path] ??
    (/^server\/(units|money|statistics)\//.test(path) ? 'pure' : null) ??
    (/^server\/(db)\//.test(path) ? 'queries' : null) ??
    (/^server\/check\//.test(path) ? 'acts' : null) ??
    (/^server\/commands\//.test(path) ? 'top' : null) ??
    (/^server\/files\/(imports|exports)\//.test(path) ? 'forms' : null) ??
    (/^(compute|table|families|settings|audit|shares|csv)\.ts$/.test(name) ? 'compute' : null) ??
    (/^queries\.ts$/.test(name) ? 'queries' : null) ??
    (/^acts\.ts$/.test(name) ? 'acts' : null) ??
    (/^(forms|pages|imports|exports)\.ts$/.test(name) ? 'forms' : null) ??
    (/routes\.ts$/.test(name) ? 'routes' : null);
  if (layer === null) throw new Error(`${path}: say in tests/tidy.test.ts which layer it belongs to`);
  return LAYERS.indexOf(layer);
}

const areaOf = (path: string): number => AREAS.indexOf((path.split('/')[1] ?? '') as (typeof AREAS)[number]);

test('imports go from upper layers to lower ones, and within a layer from later areas to earlier ones', () => {
  const wrong = sources
    .filter((path) => path.startsWith('server/'))
    .flatMap((path) =>
      importsOf(path, { values: true })
        .filter((target) => target.startsWith('server/'))
        .filter((target) => {
          const [from, to] = [layerOf(path), layerOf(target)];
          // Files at the top of server/ belong to no area: for them only the layer counts.
          const isLaterArea = areaOf(path) >= 0 && areaOf(target) > areaOf(path);
          return to > from || (to === from && isLaterArea);
        })
        .map((target) => `${path} -> ${target}`),
    );
  expect(wrong).toEqual([]);
});

test('views take types from the server and values only from its pure parts', () => {
  const wrong = sources
    .filter((path) => path.startsWith('views/') && path.endsWith('.ts'))
    .flatMap((path) =>
      importsOf(path, { values: true })
        .filter((target) => target.startsWith('server/') && layerOf(target) > LAYERS.indexOf('compute'))
        .map((target) => `${path} -> ${target}`),
    );
  expect(wrong).toEqual([]);
});

test('no file imports itself by way of others', () => {
  const circles: string[] = [];
  const done = new Set<string>();
  const visit = (path: string, way: string[]): void => {
    if (way.includes(path)) {
      circles.push([...way.slice(way.indexOf(path)), path].join(' -> '));
      return;
    }
    if (done.has(path)) return;
    for (const target of importsOf(path, { values: true })) if (sources.includes(target)) visit(target, [...way, path]);
    done.add(path);
  };
  for (const path of sources) visit(path, []);
  expect(circles).toEqual([]);
});

test('nothing is dead: every file is reached from a command, the server or the bench', () => {
  const seen = new Set<string>();
  const reach = (path: string): void => {
    if (seen.has(path)) return;
    seen.add(path);
    for (const target of [...importsOf(path, { values: false }), ...runBy(path)]) reach(target);
  };
  const scripts = Object.values((JSON.parse(source('package.json')) as { scripts: Record<string, string> }).scripts);
  const starts = sources.filter((path) => scripts.some((script) => script.includes(path)));
  expect(starts.length).toBeGreaterThan(5);
  for (const path of starts) reach(path);
  expect(sources.filter((path) => !seen.has(path))).toEqual([]);
});

test('every exported name of the server and the views is used somewhere else', () => {
  const texts = new Map(everything.map((path) => [path, source(path)]));
  const unused = sources
    .filter((path) => /^(server|views)\//.test(path) && !path.includes('/charts/'))
    .flatMap((path) => {
      const names = [...source(path).matchAll(/^export (?:async )?(?:function|const|class|interface|type) (\w+)/gm)];
      const elsewhere = [...texts].filter(([other]) => other !== path).map(([, text]) => text);
      const own = source(path);
      return names
        .map(([, name = '']) => name)
        .filter((name) => !elsewhere.some((text) => new RegExp(`\\b${name}\\b`).test(text)))
        .filter((name) => (own.match(new RegExp(`\\b${name}\\b`, 'g')) ?? []).length < 2)
        .map((name) => `${path}: ${name}`);
    });
  expect(unused).toEqual([]);
});

test('nothing is left to fix later, and no machine path is in a file', () => {
  const marks = new RegExp(['FIX', 'ME|TO', 'DO|XX', 'X\\b|/wo', 'rk/|/ro', 'ot/'].join(''));
  expect(everything.filter((path) => marks.test(source(path)))).toEqual([]);
});

test('functions fit on a screen: none over 70 lines', () => {
  const long = sources.flatMap((path) => {
    const lines = source(path).split('\n');
    return lines.flatMap((line, start) => {
      if (!/^(export )?(default )?(async )?function |^(export )?const \w+.*=> \{$/.test(line)) return [];
      const end = lines.findIndex((later, at) => at > start && /^\}/.test(later));
      return end - start + 1 > 70 ? [`${path}:${start + 1} (${end - start + 1} lines)`] : [];
    });
  });
  expect(long).toEqual([]);
});

test('no float arithmetic on mass or money: Number(), parseFloat and toFixed stay out of the pure parts', () => {
  const pure = sources.filter((path) =>
    /^server\/(money|prices|tickets|reconciliation|manifests|ledger|reports)\//.test(path),
  );
  const found = pure.filter((path) => /\bparseFloat\(|[^.\w]Number\(/.test(source(path)));
  expect(found).toEqual([]);
});
