import type { MassUg } from '../../units/mass.ts';

/**
 * How things are written in a journal, so that no name and no note can end a line, an account or a comment, or be taken
 * for a figure, a tag, a date or an expression by a program that reads it.
 */

/** The units in which a whole number of micrograms is a finite decimal, with the decimals that it then has. */
const DECIMALS = { g: 6, kg: 9, tonne: 12 } as const;
export type JournalUnit = keyof typeof DECIMALS;
export const journalUnits = Object.keys(DECIMALS) as readonly JournalUnit[];

/**
 * What has a meaning in some journal (and the percent sign itself), every space but a plain one between two other
 * characters, and everything that cannot be printed.
 */
const MEANT = /[%;:|[\]{}"\\\p{C}]|(?! )\p{Z}|^ | $|(?<= ) /gu;

/** A text with such signs written as in an address: `%3B` for a semicolon. No two texts become the same. */
export const plain = (text: string): string => text.toWellFormed().replace(MEANT, encoded);

const encoded = (sign: string): string =>
  [...Buffer.from(sign, 'utf8')].map((byte) => `%${byte.toString(16).toUpperCase().padStart(2, '0')}`).join('');

/** Some programs read no longer name than 255 bytes. */
const MOST_BYTES = 200;

/** A part of the name of an account or a commodity. One that is very long is cut, and told apart by its row's number. */
export function nameIn(text: string, id: number): string {
  const name = text === '' ? '%' : plain(text);
  if (Buffer.byteLength(name) <= MOST_BYTES) return name;
  let short = '';
  for (const character of name) {
    if (Buffer.byteLength(short + character) > MOST_BYTES - 20) break;
    short += character;
  }
  return `${short.trimEnd()}…%#${id}`;
}

/** Some programs read no longer line than 4096 bytes. */
const LONGEST_COMMENT = 400;

/** A note as comments, a line for each of its own, and more for a long one. */
export function commentLines(note: string): string {
  const lines = note.split(/[\r\n\u2028\u2029]+/).flatMap((line) => plain(line.trim()).match(PIECES) ?? []);
  return lines.map((line) => `    ; ${line}\n`).join('');
}
const PIECES = new RegExp(`.{1,${LONGEST_COMMENT}}`, 'gu');

/** A mass as a figure with all of its micrograms: 15.648936765. */
export function massFigure(mass: MassUg, unit: JournalUnit): string {
  const decimals = DECIMALS[unit];
  const digits = String(Math.abs(mass)).padStart(decimals + 1, '0');
  return `${mass < 0 ? '-' : ''}${digits.slice(0, -decimals)}.${digits.slice(-decimals)}`;
}
