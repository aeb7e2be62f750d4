import fc from 'fast-check';
import { demoToday } from '../../seed/demo.ts';
import type { FormField } from './page-forms.ts';

// What a field, an address or a cell may get: what belongs there, that with something wrong in it, and what never does.

/** Stands in texts that would be markup if a page let them through. */
export const MARK = '<fuzz-mark>';

const NUMBERS_OF_SORTS = [
  ...[
    'NaN',
    'Infinity',
    '-Infinity',
    '1e309',
    '1e-400',
    '-0',
    '-5',
    '+5',
    '.5',
    '5.',
    '.',
    '-',
    '1,2,3',
    '1.2.3',
    '0x10',
  ],
  ...['1_000', '½', '１２', '٣٤', '1e5', '0.0000001', '0.5e', '1 000', "1'000", '$5', '5 %', '100%', '101%', '-1%'],
  ...[
    '99999999999999999999',
    '9007199254740993',
    '9223372036854775808',
    '4294967296',
    '999999999999',
    '0',
    '00',
    '007',
  ],
  ...['12 parsecs', '3 lb 99 oz', '3 lb -7 oz', '3lb7oz', '34#', '#34', '1 lb 2 lb', '0 lb', '1e9 kg', '424242'],
];
const DAYS_OF_SORTS = [
  ...[
    '2025-02-30',
    '2025-02-29',
    '0000-00-00',
    '0000-01-01',
    '9999-12-31',
    '10000-01-01',
    '-000001-01-01',
    '+2025-01-01',
  ],
  ...['2025-1-1', '01/02/2025', '2025-01-01T00:00:00Z', '2025-01', '2025', '2025-W01-1', '1900-01-01', '2025-13-01'],
];
const NAMES_OF_SORTS = [
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
  'prototype',
  'length',
  'null',
  'undefined',
  'true',
];
const TEXTS_OF_SORTS = [
  ...[
    '',
    ' ',
    '\t',
    '\r\n',
    '\0',
    'a\0b',
    '\u001b[2J',
    '\u007f',
    '\ufeff',
    '\ufffe',
    '\uffff',
    "'",
    '"',
    '`',
    '\\',
    '\\0',
    '%',
    '%00',
  ],
  ...[
    '%zz',
    '%',
    '*',
    '?',
    '&',
    '=',
    ';',
    ',',
    ', ,',
    '1, 2',
    '1;2',
    '<',
    '>',
    ']]>',
    '--',
    '/*',
    "' or 1=1 --",
    '");drop table bin;',
  ],
  ...[
    MARK,
    `">${MARK}`,
    `'>${MARK}`,
    `</textarea>${MARK}`,
    `</script>${MARK}`,
    `javascript:alert(1)`,
    '{{7*7}}',
    '${' + '7*7}',
    '=1+1',
  ],
  ...[
    '../../etc/passwd',
    '//elsewhere.example',
    'http://elsewhere.example',
    'https:',
    '\\\\elsewhere',
    'file:///x',
    '/',
    '//',
    '/..',
  ],
  ...[
    '\u202eabc',
    'a\u200bb',
    '\u200d',
    'e\u0301',
    'ﬃ',
    'İ',
    'ß',
    '👩‍🔧',
    '𝟙𝟚',
    '\ud800',
    'a\udfff',
    '\udc00\ud800',
    '¹²³',
    '\u2028',
    '\u00a0 5',
  ],
  ...['NEAR', 'cu2', 'CU2 OR', 'CU2*', '"CU2', '-CU2', '^CU2', 'a:b', 'or', 'NOT', '(', ')'],
];
/** Long ones, some of which a careless pattern would go over again and again. */
const LONG_ONES = [
  ...[
    'x'.repeat(201),
    'x'.repeat(2001),
    'x'.repeat(20_000),
    ' '.repeat(20_000),
    `${' '.repeat(20_000)}x`,
    '9'.repeat(400),
  ],
  ...[
    '9'.repeat(20_000),
    '0'.repeat(20_000),
    `1.${'0'.repeat(20_000)}1`,
    '9,'.repeat(8000),
    '1 lb '.repeat(4000),
    '1;'.repeat(8000),
  ],
  ...[
    '1, '.repeat(8000),
    'e\u0301'.repeat(5000),
    '𝟙'.repeat(5000),
    '%'.repeat(9000),
    'a\n'.repeat(9000),
    '"'.repeat(9000),
    '('.repeat(9000),
  ],
  ...[
    '=-'.repeat(5000),
    `${'a'.repeat(9000)}!`,
    `${'1'.repeat(9000)} l`,
    '2025-'.repeat(4000),
    '\u202e'.repeat(5000),
    '\0'.repeat(5000),
  ],
];

/** What never belongs into a field. */
export const hostileText: fc.Arbitrary<string> = fc.oneof(
  { arbitrary: fc.constantFrom(...NUMBERS_OF_SORTS), weight: 5 },
  { arbitrary: fc.constantFrom(...TEXTS_OF_SORTS), weight: 5 },
  { arbitrary: fc.constantFrom(...DAYS_OF_SORTS), weight: 2 },
  { arbitrary: fc.constantFrom(...NAMES_OF_SORTS), weight: 1 },
  { arbitrary: fc.constantFrom(...LONG_ONES), weight: 2 },
  { arbitrary: fc.string({ unit: 'binary', maxLength: 40 }), weight: 2 },
  { arbitrary: fc.string({ unit: 'grapheme', maxLength: 40 }), weight: 1 },
  { arbitrary: fc.double().map(String), weight: 1 },
  { arbitrary: fc.bigInt({ min: -(2n ** 70n), max: 2n ** 70n }).map(String), weight: 1 },
);

const anyCharacter = fc.oneof(
  fc.constantFrom(...'0.,-+%#/;:"\'<&\0\n\u202e\u200b\ud800½e l'),
  fc.string({ unit: 'binary', minLength: 1, maxLength: 1 }),
);

/** A text with one thing wrong: a character more, fewer, doubled or another. */
export const mutated = (text: fc.Arbitrary<string>): fc.Arbitrary<string> =>
  fc
    .tuple(text, fc.nat(), anyCharacter, fc.constantFrom('insert', 'cut', 'double', 'replace', 'shorten'))
    .map(([was, where, character, how]) => {
      const at = where % (was.length + 1);
      const [before, after] = [was.slice(0, at), was.slice(at)];
      if (how === 'insert') return before + character + after;
      if (how === 'cut') return before + after.slice(1);
      if (how === 'double') return before + after + after;
      return how === 'shorten' ? before : before + character + after.slice(1);
    });

/** A day near the demo's today, most of them past. */
export const someDay: fc.Arbitrary<string> = fc.integer({ min: -430, max: 3 }).map((days) => {
  const at = new Date(`${demoToday}T00:00:00Z`);
  at.setUTCDate(at.getUTCDate() + days);
  return at.toISOString().slice(0, 10);
});

export const someFigure: fc.Arbitrary<string> = fc.oneof(
  fc.constantFrom('12.5', '1', '0.05', '34', '100', '3 lb 7 oz', '34#', '12,4', '12.4 kg', '5%', '2.20', '14', '0'),
  fc.integer({ min: 1, max: 500_000 }).map((hundredths) => (hundredths / 100).toFixed(2)),
);

const someWords = fc.oneof(
  fc.constantFrom(
    'Shed',
    'after rain',
    'Lot 7',
    '70099',
    'a, b',
    'Ångström & Söhne',
    'CU9',
    'B',
    'long handle',
    'it’s',
  ),
  fc.string({ minLength: 1, maxLength: 12 }),
);

export const PASSPHRASE = 'rope lantern gravel tuesday';

/** What a person might well put into a field of a form; null where it is left unticked. */
export function fitting({ name, kind, value, choices }: FormField): fc.Arbitrary<string | null> {
  const asItIs = fc.constant(value);
  switch (kind) {
    case 'hidden':
      return asItIs;
    case 'list':
      return fc.oneof({ arbitrary: asItIs, weight: 2 }, { arbitrary: fc.constantFrom(...choices, value), weight: 3 });
    case 'tick':
      return fc.constantFrom(value, null, ...choices);
    case 'day':
      return fc.oneof({ arbitrary: asItIs, weight: 3 }, { arbitrary: someDay, weight: 2 });
    case 'secret':
      return fc.constant(PASSPHRASE);
    case 'file':
      return fc.constant(null);
    default: {
      const typed = kind === 'figure' ? someFigure : someWords;
      // What is not asked for is mostly left out, and a number that is taken would be asked about.
      const keeps = name === 'number' ? 0 : kind === 'figure' || value !== '' ? 2 : 1;
      return fc.oneof({ arbitrary: asItIs, weight: keeps }, { arbitrary: typed, weight: 2 });
    }
  }
}

/** A body or query as a browser writes it; half a surrogate pair becomes the bytes that no UTF-8 has. */
export const encoded = (pairs: readonly (readonly [string, string])[]): string =>
  pairs.map(([name, value]) => `${encodedText(name)}=${encodedText(value)}`).join('&');

export function encodedText(text: string): string {
  return [...text]
    .map((character) => {
      const code = character.codePointAt(0) ?? 0;
      if (code < 0xd800 || code > 0xdfff) return encodeURIComponent(character);
      const bytes = [0xe0 | (code >> 12), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)];
      return bytes.map((byte) => `%${byte.toString(16)}`).join('');
    })
    .join('');
}
