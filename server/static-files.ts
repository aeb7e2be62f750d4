import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { pageScripts } from './scripts.ts';
import { pageStyles, sheetStyles } from './styles.ts';

const JAVASCRIPT = 'text/javascript; charset=utf-8';
const STYLE_SHEET = 'text/css; charset=utf-8';

const read = (path: string): string => readFileSync(new URL(path, import.meta.url), 'utf8');

export interface StaticFile {
  type: string;
  body: Buffer;
  /** Tells this content from any other: an address with it may be kept for ever. */
  version: string;
}

function staticFile(type: string, text: string): StaticFile {
  const version = createHash('sha256').update(text).digest('base64url').slice(0, 10);
  return { type, body: Buffer.from(text), version };
}

/** What pages are drawn with, read once. htmx is sent as it came in its package. */
const files = {
  'tarebook.css': staticFile(STYLE_SHEET, pageStyles()),
  'sheet.css': staticFile(STYLE_SHEET, sheetStyles()),
  'htmx.min.js': staticFile(JAVASCRIPT, read('../node_modules/htmx.org/dist/htmx.min.js')),
  'tarebook.js': staticFile(JAVASCRIPT, pageScripts()),
} as const;

export type StaticName = keyof typeof files;

export const staticNames = Object.keys(files) as StaticName[];
export const staticFileOf = (name: StaticName): StaticFile => files[name];

/** The address to ask for a file by: another one as soon as its content is another. */
export const staticAddress = (name: StaticName): string => `/static/${name}?v=${files[name].version}`;
