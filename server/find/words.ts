/** Kinds of documents whose words are kept for the search, with the number that begins their row ids. */
export const foundKinds = {
  ticket: 1,
  manifest: 2,
  in_weight: 3,
  recount: 4,
  bin_transfer: 5,
  scale_check: 6,
  load_return: 7,
  item: 8,
  stripping: 9,
  wire_sample: 10,
} as const;
export type FoundKind = keyof typeof foundKinds;

const IDS_OF_A_KIND = 2 ** 40;

/** The row ids of one kind; a document's own is `first` plus its id. */
export const rowIdsOf = (kind: FoundKind): { first: number; last: number } => {
  const first = foundKinds[kind] * IDS_OF_A_KIND;
  return { first, last: first + IDS_OF_A_KIND - 1 };
};
export const IN_WEIGHT_WORDS = rowIdsOf('in_weight');

/** No more is searched for: what comes after is a slip of pasting. */
const MOST_WORDS = 12;
const LONGEST_WORD = 60;

/**
 * The words of a text as the search takes them: letters and digits in a row, in whatever script. Signs part words and
 * are nothing themselves, so that no text has a meaning to the search engine beyond its words.
 */
export const wordsIn = (text: string): string[] =>
  (text.slice(0, 2000).match(/[\p{L}\p{N}\p{M}\p{Co}]+/gu) ?? [])
    .slice(0, MOST_WORDS)
    .map((word) => word.slice(0, LONGEST_WORD));

/** A shorter beginning of a word would fit nearly everything, so it must be the whole word. */
const SHORTEST_BEGINNING = 2;

/**
 * A text as a question to FTS5: every word quoted, all of them must be there, the last one may be only the beginning of
 * a word. A text without words asks for nothing and finds nothing.
 */
export function matching(text: string): string {
  const words = wordsIn(text);
  if (words.length === 0) return '""';
  const isBeginning = [...(words.at(-1) ?? '')].length >= SHORTEST_BEGINNING;
  return `${words.map((word) => `"${word}"`).join(' ')}${isBeginning ? '*' : ''}`;
}

/** A word without case and accents, as the search compares it. */
const folded = (word: string): string => word.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();

/** A piece of a text, and whether it is what was searched for. */
export interface Piece {
  text: string;
  isMatch: boolean;
}

/** A text in pieces, those marked that begin with one of the words: the search finds whole words and beginnings. */
export function markWords(text: string, words: readonly string[]): Piece[] {
  const wanted = words.map(folded).filter((word) => word !== '');
  const pieces: Piece[] = [];
  let end = 0;
  for (const found of text.matchAll(/[\p{L}\p{N}\p{M}\p{Co}]+/gu)) {
    const [word] = found;
    if (!wanted.some((each) => folded(word).startsWith(each))) continue;
    if (found.index > end) pieces.push({ text: text.slice(end, found.index), isMatch: false });
    pieces.push({ text: word, isMatch: true });
    end = found.index + word.length;
  }
  if (end < text.length) pieces.push({ text: text.slice(end), isMatch: false });
  return pieces;
}

const AROUND = 80;

/** The lines of a kept text that have one of the words, each cut around its first match; '' when none has. */
export function linesWith(text: string, words: readonly string[]): string {
  const lines = text.split('\n').filter((line) => markWords(line, words).some(({ isMatch }) => isMatch));
  return lines.map((line) => cutAround(line, words)).join(' · ');
}

function cutAround(line: string, words: readonly string[]): string {
  if (line.length <= 2 * AROUND) return line;
  const [first] = markWords(line, words);
  const at = first === undefined || first.isMatch ? 0 : first.text.length;
  const from = Math.max(0, at - AROUND);
  return `${from > 0 ? '…' : ''}${line.slice(from, at + AROUND)}${at + AROUND < line.length ? '…' : ''}`;
}
