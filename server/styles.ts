import { readFileSync } from 'node:fs';

/** The order matters: what is general comes first, and paper has the last word. */
const PARTS = [
  'paper',
  'forms',
  'tables',
  'bench',
  'tags',
  'set-up',
  'cautions',
  'teardown',
  'prices',
  'manifests',
  'tickets',
  'reports',
  'earnings',
  'cards',
  'charts',
  'files',
  'access',
  'backups',
  'photos',
  'find',
  'print',
];

/** What the pages that are made for paper add to it. */
const SHEET_PARTS = ['sheet', 'hang-tags'];

const folder = new URL('../views/styles/', import.meta.url);
const joined = (parts: readonly string[]): string =>
  parts.map((part) => readFileSync(new URL(`${part}.css`, folder), 'utf8')).join('\n');

/** The style sheets of views/styles as one, so that a first view on a phone asks for one file and not fourteen. */
export const pageStyles = (): string => joined(PARTS);

/** One more for pages that are made for paper. */
export const sheetStyles = (): string => joined(SHEET_PARTS);
