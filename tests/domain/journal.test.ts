import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { journalPieces } from '../../server/files/journal/journal.ts';
import { commentLines, journalUnits, massFigure, nameIn, plain } from '../../server/files/journal/text.ts';
import { recordRecount, undoInWeight } from '../../server/ledger/acts.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import { Unreadable } from '../../server/reading.ts';
import { takeTicketBack } from '../../server/tickets/take-back.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { binId, lb, newLedger, setUpWorkedExample, weighIn } from '../helper.ts';
import { HOSTILE } from '../hostile.ts';
import { sell } from '../sales.ts';

const texts = fc.oneof(
  fc.constantFrom(...HOSTILE),
  fc.string({ unit: 'binary', maxLength: 60 }).map((text) => text.toWellFormed()),
);
const text = (ledger: Ledger, typed: Record<string, string> = {}): string => [...journalPieces(ledger, typed)].join('');

test('no text ends a line, an account or a comment, and each comes back as it was', () => {
  fc.assert(
    fc.property(texts, (original) => {
      const written = plain(original);
      expect(written).not.toMatch(/[;:|[\]{}"\\\p{C}]|\s\s|^\s|\s$|(?! )\s/u);
      expect(decodeURIComponent(written)).toBe(original);
    }),
    { numRuns: 2_000, seed: 20251125 },
  );
});

test('a name is never empty and never too long, and no two of them are the same', () => {
  expect([nameIn('', 1), nameIn('CU2', 1), nameIn('a;b', 1)]).toEqual(['%', 'CU2', 'a%3Bb']);
  const long = ['x'.repeat(300), '鉄'.repeat(200), ';'.repeat(200)];
  for (const name of long) {
    expect(Buffer.byteLength(nameIn(name, 1_234_567))).toBeLessThan(220);
    expect(nameIn(name, 1)).not.toBe(nameIn(name, 2));
    expect(nameIn(name, 12)).toMatch(/…%#12$/);
  }
});

test('a note of many lines is a comment on every one of them, and a long line is several', () => {
  expect(commentLines('first\r\n\r\n  key: (((  \u2028P 2025-01-01')).toBe(
    '    ; first\n    ; key%3A (((\n    ; P 2025-01-01\n',
  );
  expect(commentLines('')).toBe('');
  expect(
    commentLines('x'.repeat(900))
      .split('\n')
      .map((line) => line.length),
  ).toEqual([406, 406, 106, 0]);
});

test('a figure has every microgram', () => {
  expect(massFigure(lb('34.5'), 'kg')).toBe('15.648936765');
  expect(massFigure(massUg(1), 'kg')).toBe('0.000000001');
  expect(massFigure(massUg(-1), 'g')).toBe('-0.000001');
  const factor = { g: 1e6, kg: 1e9, tonne: 1e12 };
  fc.assert(
    fc.property(fc.integer({ min: -9e15, max: 9e15 }), fc.constantFrom(...journalUnits), (mass, unit) => {
      expect(new Decimal(massFigure(massUg(mass), unit)).times(factor[unit]).toNumber()).toBe(mass);
    }),
    { numRuns: 1_000, seed: 20251125 },
  );
});

/** A small ledger with one of each: weighed in, taken back, recounted, quoted, sold with a deduction and charges. */
function smallLedger(): Ledger {
  const ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '100', '2025-03-01', { note: 'washer; motor\nand: pump' });
  undoInWeight(ledger, weighIn(ledger, 'YB1', '20', '2025-03-02'), false);
  const recount = { netTyped: '99', unit: 'lb', netUg: lb('99'), occurredOn: day('2025-03-03'), note: '' } as const;
  recordRecount(ledger, { binId: binId(ledger, 'CU2'), ...recount });
  recordQuote(ledger, { yardId, gradeId: 1, price: '3.60', per: 'lb', seenOn: day('2025-03-01'), seenWhere: '' });
  sell(ledger, {
    yardId,
    number: 'N1',
    on: '2025-03-08',
    loads: [{ code: 'CU2', net: '90', price: '3.60' }],
    lines: [
      { loads: [0], paidAs: 'No. 2 copper', gross: '89', deduction: '1', net: '88', price: '3.50', amount: '308.00' },
    ],
    charges: '6.00',
  });
  return ledger;
}

/** Everything after the head and what it says of the commodities. */
const bodyOf = (journal: string): string => journal.slice(journal.indexOf('; What a grade was worth'));

test('the whole of a small one, as a person has read it', () => {
  const ledger = smallLedger();
  expect(bodyOf(text(ledger))).toMatchInlineSnapshot(`
    "; What a grade was worth: the best price of any yard, by day

    P 2025-03-01 "kg No. 2 copper" 7.936641438656 USD

    ; What was moved, by day

    2025-03-01 * (T1) In-weight 1 | weighed in
        ; washer%3B motor
        ; and%3A pump
        Mass:Bins:CU2  45.359237000 "kg No. 2 copper"
        Mass:Outside  -45.359237000 "kg No. 2 copper"

    2025-03-02 * (T2) In-weight 2 | weighed in
        Mass:Bins:YB1  9.071847400 "kg Yellow brass"
        Mass:Outside  -9.071847400 "kg Yellow brass"

    2025-03-02 * (T3) In-weight 2 | undone
        ; takes back T2
        Mass:Outside  9.071847400 "kg Yellow brass"
        Mass:Bins:YB1  -9.071847400 "kg Yellow brass"

    2025-03-03 * (T4) Recount 1 | recount
        Mass:Count difference  0.453592370 "kg No. 2 copper"
        Mass:Bins:CU2  -0.453592370 "kg No. 2 copper"

    2025-03-08 * (T5) Load 1 | loaded
        Mass:Loads:Demo Yard North:N1:A  40.823313300 "kg No. 2 copper"
        Mass:Bins:CU2  -40.823313300 "kg No. 2 copper"

    2025-03-08 * (T6) Ticket 1 | scale difference
        Mass:Scale difference  0.453592370 "kg No. 2 copper"
        Mass:Loads:Demo Yard North:N1:A  -0.453592370 "kg No. 2 copper"

    2025-03-08 * (T7) Ticket 1 | deducted
        Mass:Deducted  0.453592370 "kg No. 2 copper"
        Mass:Loads:Demo Yard North:N1:A  -0.453592370 "kg No. 2 copper"

    2025-03-08 * (T8) Ticket 1 | sold
        Mass:Sold  39.916128560 "kg No. 2 copper"
        Mass:Loads:Demo Yard North:N1:A  -39.916128560 "kg No. 2 copper"

    ; What was paid, by day

    2025-03-08 * (M1) Demo Yard North | Ticket N1
        Money:Expected:No. 2 copper  -324.00 USD
        Money:Effects:Scale  3.60 USD
        Money:Effects:Deduction  3.60 USD
        Money:Effects:Price  8.80 USD
        Money:Effects:Charges  6.00 USD
        Money:Received:Cash  302.00 USD

    "
  `);
  ledger.db.close();
});

test('its head says the unit, the accounts and how names are written, and every commodity has its decimals', () => {
  const ledger = smallLedger();
  const head = text(ledger).split('\n; What a grade')[0];
  expect(head).toMatchInlineSnapshot(`
    "; The ledger of Tarebook as of 2025-03-20, as a journal of double entries.
    ;
    ; Weights are in kg, and every grade is a commodity of its own ("kg No. 2 copper"). Every microgram that the ledger
    ; holds is in them: g, kg and tonne are exact to it, pounds and ounces are not, because a microgram of them has no end.
    ; What was taken back stands beside what took it back.
    ;
    ; Mass:Bins:CODE, Mass:Loads:YARD:MANIFEST:LOAD  what is there now
    ; Mass:Outside                                   where material comes from, so it is negative
    ; Mass:Items:NUMBER KIND                         what came out of an item, so it is negative too
    ; Mass:Sold, Deducted, Scale difference          where loads went, by the yards' tickets
    ; Mass:Count difference                          what recounts and loading found missing (positive) or found (negative)
    ;
    ; Money is in USD, and of the tickets that count. What was expected of the loads (negative) and every effect that took
    ; something away (positive; one that added something is negative) leave what was received:
    ; Money:Expected:GRADE, Money:Effects:EFFECT, Money:Received:HOW
    ;
    ; Signs in names and notes that mean something in a journal are written as in an address: %3B is a semicolon. A name that
    ; is cut because it is very long ends with the number of its row.

    commodity USD
        format 1000.00 USD

    commodity "kg No. 2 copper"
        format 1000.000000000 "kg No. 2 copper"

    commodity "kg Light copper"
        format 1000.000000000 "kg Light copper"

    commodity "kg Insulated wire, low recovery"
        format 1000.000000000 "kg Insulated wire, low recovery"

    commodity "kg Yellow brass"
        format 1000.000000000 "kg Yellow brass"

    commodity "kg Shreddable steel"
        format 1000.000000000 "kg Shreddable steel"
    "
  `);
  ledger.db.close();
});

test('a ticket that was taken back is no money, and its mass goes back beside what it was', () => {
  const ledger = smallLedger();
  takeTicketBack(ledger, 1, 'not ours');
  const journal = text(ledger);
  expect(journal).not.toContain('(M1)');
  expect(journal.match(/Ticket 1 \| sold\n/g)).toHaveLength(1);
  expect(journal.match(/Ticket 1 \| ticket taken back\n {4}; takes back T\d+\n/g)).toHaveLength(3);
  ledger.db.close();
});

test('what is weighed in while it is read is not in it, and neither is a bin’s new name', () => {
  const ledger = smallLedger();
  const before = text(ledger);
  const pieces = journalPieces(ledger, {})[Symbol.iterator]();
  let read = String(pieces.next().value);
  weighIn(ledger, 'CU2', '7', '2025-03-01');
  ledger.db.sqlite.exec("update bin set code = 'OTHER' where code = 'CU2'");
  takeTicketBack(ledger, 1, 'not ours');
  for (let next = pieces.next(); !next.done; next = pieces.next()) read += next.value;
  expect(read).toBe(before);
  ledger.db.close();
});

test('it is in the ledger’s unit where that is exact, in kg otherwise, and another unit is refused in a sentence', () => {
  const ledger = smallLedger();
  expect(text(ledger)).toContain(' "kg No. 2 copper"');
  expect(text({ ...ledger, settings: { ...ledger.settings, unit: 'g' } })).toContain(' 45359.237000 "g No. 2 copper"');
  expect(text(ledger, { unit: 'tonne' })).toContain(' 0.045359237000 "tonne No. 2 copper"');
  expect(() => journalPieces(ledger, { unit: 'lb' })).toThrow(Unreadable);
  expect(() => journalPieces(ledger, { unit: 'lb' })).toThrow('Choose g, kg or tonne for a journal.');
  expect(() => journalPieces(ledger, { unit: 'stone' })).toThrow(Unreadable);
  ledger.db.close();
});

test('a currency without decimals and an empty ledger have a journal too', () => {
  const ledger = newLedger();
  const empty = text({ ...ledger, settings: { ...ledger.settings, currency: 'JPY' } });
  expect(empty).toContain('commodity JPY\n\n');
  expect(bodyOf(empty)).toBe(
    '; What a grade was worth: the best price of any yard, by day\n\n\n; What was moved, by day\n\n; What was paid, by day\n\n',
  );
  ledger.db.close();
});
