// Every address that answers with a page, and where on the demo it is looked at. A new page has to be named here, or
// the first test of the pages fails: then size, reach, and paper are checked for it too.

/** Addresses of the demo, by the route that answers them. */
export const LOOKED_AT: Readonly<Record<string, readonly string[]>> = {
  '/': ['/'],
  '/items': ['/items', '/items?status=waiting'],
  '/items/new': ['/items/new'],
  '/items/:id': ['/items/1', '/items/9', '/items/14', '/items/24', '/items/34'],
  '/items/:id/edit': ['/items/1/edit'],
  '/items/parts': ['/items/parts'],
  '/items/:id/teardown': ['/items/1/teardown', '/items/34/teardown'],
  '/items/:id/sales': ['/items/1/sales'],
  '/weigh-in': ['/weigh-in', '/weigh-in?bin=CU2', '/weigh-in?bin=CU2&done=3', '/weigh-in?item=34&bin=CU2'],
  '/in-weights/:id/correction': ['/in-weights/3/correction'],
  '/bins/:code': ['/bins/CU2', '/bins/CW2', '/bins/PCB'],
  '/bench': ['/bench'],
  '/bench/wire': ['/bench/wire', '/bench/wire?kind=1', '/bench/wire?insulated=1.1&bare=3.6&recovery=40'],
  '/bench/wire/kinds': ['/bench/wire/kinds'],
  '/bench/wire/kinds/:id': ['/bench/wire/kinds/1'],
  '/bench/stripping': ['/bench/stripping'],
  '/bench/metal': ['/bench/metal', '/bench/metal?dry=850&submerged=750&unit=g&division=1'],
  '/prices': ['/prices'],
  '/prices/board': ['/prices/board?yard=1'],
  '/prices/grades/:id': ['/prices/grades/8', '/prices/grades/14'],
  '/manifests': ['/manifests'],
  '/manifests/new': ['/manifests/new?yard=1'],
  '/manifests/:id': ['/manifests/1', '/manifests/7', '/manifests/22', '/manifests/24', '/manifests/25'],
  '/manifests/:id/sheet': ['/manifests/22/sheet', '/manifests/25/sheet'],
  '/tickets': ['/tickets'],
  '/tickets/new': ['/tickets/new', '/tickets/new?manifest=24'],
  '/tickets/:id': ['/tickets/6', '/tickets/13', '/tickets/23'],
  '/tickets/:id/replacement': ['/tickets/6/replacement'],
  '/last-entry': ['/last-entry'],
  '/find': ['/find', '/find?q=copper'],
  '/trail': ['/trail', '/trail?document=yard-1'],
  '/in-weights': ['/in-weights', '/in-weights?bin=CU2&from=2026-02-01'],
  '/reports': ['/reports'],
  '/reports/realised-prices': [
    '/reports/realised-prices',
    '/reports/realised-prices?grade=14',
    '/reports/realised-prices?grade=14&split=yard',
  ],
  '/reports/shrinkage': ['/reports/shrinkage', '/reports/shrinkage?grade=14&split=yard'],
  '/reports/scales': ['/reports/scales', '/reports/scales?yard=2'],
  '/reports/earnings': ['/reports/earnings', '/reports/earnings?kind=1'],
  '/worth': ['/worth', '/worth?kind=1&weight=150', '/worth?kind=12&weight=9'],
  '/items/:id/worth': ['/items/35/worth'],
  '/photos/:id': ['/photos/1'],
  '/setup': ['/setup'],
  '/setup/devices': ['/setup/devices'],
  '/setup/ledger': ['/setup/ledger'],
  '/setup/grades': ['/setup/grades'],
  '/setup/grades/:id': ['/setup/grades/1'],
  '/setup/bins': ['/setup/bins'],
  '/setup/bins/:id': ['/setup/bins/1', '/setup/bins/3'],
  '/setup/tags': ['/setup/tags', '/setup/tags?bins=1', '/setup/tags?chosen=bins'],
  '/setup/containers': ['/setup/containers'],
  '/setup/containers/:id': ['/setup/containers/1'],
  '/setup/scales': ['/setup/scales'],
  '/setup/scales/:id': ['/setup/scales/1'],
  '/setup/yards': ['/setup/yards'],
  '/setup/yards/:id': ['/setup/yards/1', '/setup/yards/2'],
  '/setup/item-kinds': ['/setup/item-kinds'],
  '/setup/item-kinds/:id': ['/setup/item-kinds/7', '/setup/item-kinds/36'],
  '/setup/cautions': ['/setup/cautions'],
  '/bench/grades': ['/bench/grades'],
  '/setup/files': ['/setup/files'],
  '/setup/backups': ['/setup/backups'],
  '/import': ['/import', '/import?kind=in-weights'],
};

/** What answers GET without being a page: files, parts of pages, and addresses that lead on to a page. */
export const NO_PAGES: readonly string[] = [
  '/health',
  '/sign-in',
  '/files/:id',
  '/files/:id/preview',
  '/pair/:code',
  '/setup/devices/pairing',
  '/setup/devices/pairing/state',
  '/export/:file',
  '/export/tarebook.journal',
  '/export/archive.zip',
  '/setup/backups/work',
  '/static/tarebook.css',
  '/static/sheet.css',
  '/static/htmx.min.js',
  '/static/tarebook.js',
  '/weigh-in/understood',
  '/manifests/new/bins',
  '/manifests/:id/lines/:line/understood',
  '/tickets/lines',
  '/tickets/check',
];

/** Addresses that answer with the page that says why not, and with what status. */
export const REFUSED: Readonly<Record<string, number>> = {
  '/no-such-page': 404,
  '/bins/NOWHERE': 404,
  '/tickets/999': 404,
  '/items/999999': 404,
  '/items?from=never': 422,
  '/reports/shrinkage?from=never': 422,
  '/reports/scales?yard=999': 422,
  '/reports/earnings?kind=999': 422,
  '/worth?kind=999&weight=2': 422,
  '/bench/metal?dry=1&submerged=2': 422,
  '/bench/wire?size=99&by=conductor': 422,
};

export const ADDRESSES: readonly string[] = Object.values(LOOKED_AT).flat();

/** Every route that answers GET, from the server's own list: a tree, one line for each piece of an address. */
export function getRoutes(printed: string): string[] {
  const above: string[] = [];
  const routes: string[] = [];
  for (const line of printed.split('\n')) {
    const [, indent = '', piece = '', methods = ''] = /^([│ ]*)[├└]── (\S*)(?: \((.*)\))?$/.exec(line) ?? [];
    if (piece === '') continue;
    const depth = indent.length / 4;
    above[depth] = (depth === 0 ? '' : (above[depth - 1] ?? '')) + piece;
    if (methods.split(', ').includes('GET')) routes.push(above[depth]);
  }
  return routes;
}

/** Whether an address is one of a route's: /bins/CU2 of /bins/:code. */
export function isOf(route: string, address: string): boolean {
  const pattern = new RegExp(`^${route.replace(/[.*]/g, '\\$&').replace(/:\w+/g, '[^/]+')}$`);
  return pattern.test(address.split('?')[0] ?? '');
}
