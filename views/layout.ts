import { staticAddress } from '../server/static-files.ts';
import type { Show } from './common/show.ts';
import { html, type SafeHtml } from './html.ts';

const AREAS = [
  { path: '/', name: 'Bins' },
  { path: '/items', name: 'Items' },
  { path: '/weigh-in', name: 'Weigh in' },
  { path: '/bench', name: 'Bench' },
  { path: '/prices', name: 'Prices' },
  { path: '/manifests', name: 'Manifests' },
  { path: '/tickets', name: 'Tickets' },
  { path: '/reports', name: 'Reports' },
  { path: '/setup', name: 'Set-up' },
] as const;

/** Which area a page belongs to: a bin's ledger belongs to Bins. */
function isHere(area: string, path: string): boolean {
  if (area === '/')
    return path === '/' || path.startsWith('/?') || path.startsWith('/bins') || path.startsWith('/in-weights/');
  // A weighing that comes back stands at the address it was posted to.
  if (area === '/weigh-in' && path === '/in-weights') return true;
  return path === area || path.startsWith(`${area}/`) || path.startsWith(`${area}?`);
}

export interface PageParts {
  title: string;
  show: Show;
  body: SafeHtml;
  /** Set on pages that are made for paper. */
  kind?: 'page' | 'sheet';
  /** What stands at the foot of each printed page; without it the title. */
  onPaper?: string;
}

const demoNote = (show: Show) => html`<aside class="demo-note" aria-label="Demo">
  Demo ledger: every figure is invented, and nothing here mixes with your own ledger. Here it is always
  ${show.day(show.today)}.
</aside>`;

/** The search, one tap away from every page: a field where there is room for one, else the link among the areas. */
const FIND_FORM = html`<form class="top-find" method="get" action="/find" role="search" aria-label="Everything">
    <input name="q" type="search" aria-label="Find a code, number, name, day, amount or note" placeholder="Find"
      maxlength="200" autocomplete="off" data-find>
  </form>`;

const areas = (path: string) => html`<nav aria-label="Areas">
    ${AREAS.map(
      (area) =>
        html`<a href="${area.path}" ${isHere(area.path, path) ? html`aria-current="page"` : null}>${area.name}</a>`,
    )}
    <a class="find-link" href="/find" ${isHere('/find', path) ? html`aria-current="page"` : null}>Find</a>
  </nav>
  ${isHere('/find', path) ? null : FIND_FORM}`;

/** The frame around every page. */
export function page({ title, show, body, kind = 'page', onPaper }: PageParts): SafeHtml {
  const { path, isDemo, isStranger } = show.frame;
  return html`<!doctype html>
<html lang="en" data-paper="${onPaper ?? title} · printed ${show.day(show.today)}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1, interactive-widget=resizes-content">
<meta name="color-scheme" content="light dark">
<title>${title} · Tarebook</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="${staticAddress('tarebook.css')}">
${kind === 'sheet' ? html`<link rel="stylesheet" href="${staticAddress('sheet.css')}">` : null}
<script src="${staticAddress('tarebook.js')}" defer></script>
<script src="${staticAddress('htmx.min.js')}" defer></script>
</head>
<body class="${kind}">
<a class="skip" href="#main">Skip to the page</a>
<header class="top">
  <a class="mark" href="/">Tarebook</a>
  ${isStranger ? null : areas(path)}
</header>
${isDemo ? demoNote(show) : null}
<main id="main">
${body}
</main>
</body>
</html>`;
}
