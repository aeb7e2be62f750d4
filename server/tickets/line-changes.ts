import type { Typed } from '../reading.ts';
import type { MassUnit } from '../units/mass.ts';

/** The fields of one line of the ticket form; on the form each name is followed by the line's number: `gross-2`. */
export const LINE_FIELDS = [
  'description',
  'paidAs',
  'loads',
  'gross',
  'tare',
  'deduction',
  'net',
  'unit',
  'price',
  'per',
  'amount',
] as const;
export type LineField = (typeof LINE_FIELDS)[number];
export type TypedLine = Readonly<Record<LineField, string>>;

/** What the yard's paper says about weight and money, as against what is filled in for the person. */
const FIGURES = ['gross', 'tare', 'deduction', 'net', 'amount'] as const;
const NO_FIGURES = { gross: '', tare: '', deduction: '', net: '', amount: '' } as const;

/** More lines than any ticket of a few bins has, and few enough for one page. */
export const MOST_LINES = 60;

/** Where a line that is called lower begins: the grade below, and its quote. */
export type LowerGrade = (paidAs: string) => Pick<TypedLine, 'paidAs' | 'price' | 'per'> | null;

export interface LineRules {
  lowerGrade: LowerGrade;
  /** The yard's unit, in which a new line begins. */
  unit: MassUnit;
}

export interface ChangedLines {
  typed: Typed;
  /** One sentence about what was done, '' when there is nothing to say. */
  said: string;
  /** The field to go on with, '' for none. */
  focus: string;
}

/** Number of lines of a form: as it says, else as many as it has fields for; at least one. */
function countLines(typed: Typed): number {
  const said = (typed.lineCount ?? '').trim();
  const highest = Object.keys(typed).reduce((most, name) => {
    const match = /^(?:description|gross|net|price|amount)-(\d{1,3})$/.exec(name);
    return Math.max(most, match === null ? 0 : Number.parseInt(match[1] ?? '', 10));
  }, 1);
  const count = /^\d{1,3}$/.test(said) ? Math.max(1, Number.parseInt(said, 10)) : highest;
  return Math.min(count, MOST_LINES);
}

const lineAt = (typed: Typed, lineNo: number): TypedLine =>
  Object.fromEntries(LINE_FIELDS.map((field) => [field, typed[`${field}-${lineNo}`] ?? ''])) as Record<
    LineField,
    string
  >;

/** The lines of a form, in order. */
export const typedLines = (typed: Typed): TypedLine[] =>
  Array.from({ length: countLines(typed) }, (_, index) => lineAt(typed, index + 1));

const isLineField = (name: string): boolean => {
  const match = /^([a-zA-Z]+)-\d+$/.exec(name);
  return match !== null && LINE_FIELDS.some((field) => field === match[1]);
};

/** The same form with other lines, numbered 1, 2, 3. */
export function withLines(typed: Typed, lines: readonly TypedLine[]): Typed {
  const rest = Object.entries(typed).filter(
    ([name]) => !isLineField(name) && name !== 'lineCount' && name !== 'change',
  );
  const fields = lines.flatMap((line, index) => LINE_FIELDS.map((field) => [`${field}-${index + 1}`, line[field]]));
  return Object.fromEntries([...rest, ...fields, ['lineCount', String(lines.length)]]);
}

/**
 * The loads that a field names by their labels. A label may hold a comma itself, so the longest that fits is taken.
 * What names no load is given back as it was typed.
 */
export function loadsNamed<T extends { readonly label: string }>(
  loads: readonly T[],
  joined: string,
): { found: T[]; unknown: string } {
  const longestFirst = [...loads].sort((a, b) => b.label.length - a.label.length);
  const found = new Set<T>();
  const unknown: string[] = [];
  let rest = joined.trim();
  while (rest !== '') {
    const text = rest.toLowerCase();
    const begins = (label: string): boolean => text === label || text.startsWith(`${label},`);
    const load = longestFirst.find(({ label }) => begins(label.toLowerCase()));
    const name = load?.label ?? rest.split(',')[0] ?? rest;
    if (load !== undefined) found.add(load);
    else if (name !== '') unknown.push(name);
    rest = rest.slice(name.length).replace(/^,/, '').trim();
  }
  return { found: [...found], unknown: unknown.join(',') };
}

const emptyLine = ({ unit }: LineRules): TypedLine => ({
  ...NO_FIGURES,
  description: '',
  paidAs: '',
  loads: '',
  unit,
  price: '',
  per: unit,
});

const hasFigures = (line: TypedLine): boolean => FIGURES.some((field) => line[field].trim() !== '');
const figuresOf = (line: TypedLine) => ({
  gross: line.gross,
  tare: line.tare,
  deduction: line.deduction,
  net: line.net,
  amount: line.amount,
});

/** Labels of both lines, each once. Labels are taken whole between commas, as the form sends them. */
const united = (upper: string, lower: string): string =>
  [...new Set([...upper.split(','), ...lower.split(',')].map((label) => label.trim()))].filter(Boolean).join(',');

/** Two lines as one: the upper one's words and figures, the lower one's where the upper has none. */
function joinLines(upper: TypedLine, lower: TypedLine): TypedLine {
  return {
    ...upper,
    ...(hasFigures(upper) ? {} : figuresOf(lower)),
    description: upper.description || lower.description,
    paidAs: upper.paidAs || lower.paidAs,
    price: upper.price || lower.price,
    loads: united(upper.loads, lower.loads),
  };
}

/** Says which figures a join left out, so that nothing typed is lost without a word. */
function saidOfJoin(upper: TypedLine, lower: TypedLine, lineNo: number): string {
  const joined = `Line ${lineNo} is joined to line ${lineNo - 1}.`;
  if (!hasFigures(upper) || !hasFigures(lower)) return joined;
  const left = FIGURES.filter((field) => lower[field].trim() !== '').map((field) => `${field} ${lower[field].trim()}`);
  return `${joined} Left out, because line ${lineNo - 1} has its own: ${left.join(', ')}.`;
}

/**
 * Changes the lines of a form and keeps everything else that was typed.
 * @param change `split:2`, `join:2` (with the one above), `remove:2`, `add`; anything else changes nothing
 */
export function changeLines(typed: Typed, change: string, rules: LineRules): ChangedLines {
  const lines = typedLines(typed);
  const [what = '', number = ''] = change.split(':');
  const lineNo = /^\d{1,3}$/.test(number) ? Number.parseInt(number, 10) : 0;
  const line = lines[lineNo - 1];
  const above = lines[lineNo - 2];
  const done = (changed: TypedLine[], said: string, focus: string) => ({
    typed: withLines(typed, changed),
    said,
    focus,
  });
  if ((what === 'add' || what === 'split') && lines.length >= MOST_LINES) {
    return done(lines, `A ticket has room for ${MOST_LINES} lines here. Enter the rest as a second ticket.`, '');
  }
  if (what === 'add') {
    return done([...lines, emptyLine(rules)], `Line ${lines.length + 1} is new.`, `paidAs-${lines.length + 1}`);
  }
  if (line === undefined) return done(lines, '', '');
  if (what === 'split') {
    const second = { ...line, ...NO_FIGURES, description: '', ...rules.lowerGrade(line.paidAs) };
    const said = `Line ${lineNo} is now two lines for the same loads.`;
    return done([...lines.slice(0, lineNo), second, ...lines.slice(lineNo)], said, `gross-${lineNo + 1}`);
  }
  if (what === 'join' && above !== undefined) {
    const rest = [...lines.slice(0, lineNo - 2), joinLines(above, line), ...lines.slice(lineNo)];
    return done(rest, saidOfJoin(above, line, lineNo), `gross-${lineNo - 1}`);
  }
  if (what === 'remove') {
    const rest = lines.filter((_, index) => index !== lineNo - 1);
    return done(rest.length === 0 ? [emptyLine(rules)] : rest, `Line ${lineNo} is taken off.`, '');
  }
  return done(lines, '', '');
}
