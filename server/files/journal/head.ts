import type { Ledger } from '../../context.ts';
import { type Currency, minorDigits } from '../../money/currencies.ts';
import { massUg } from '../../units/mass.ts';
import { type JournalUnit, massFigure } from './text.ts';

interface Headed {
  unit: JournalUnit;
  /** Of grades. */
  commodities: ReadonlyMap<number, string>;
}

/** What a journal says of itself, and how the figures of each commodity are to be written. */
export function headOf({ clock, settings }: Ledger, { unit, commodities }: Headed): string {
  const { currency } = settings;
  const mass = massFigure(massUg(1_000_000_000_000), unit);
  const formats = [...commodities.values()].map((name) => `commodity ${name}\n    format ${mass} ${name}\n\n`);
  const words = wordsOf(clock.today(), unit, currency);
  return `${words}\n${formatOf(currency)}${formats.join('')}; What a grade was worth: the best price of any yard, by day\n\n`;
}

/** Programs do not agree on how to say that a currency has no decimals; all of them see it in the figures. */
function formatOf(currency: Currency): string {
  const digits = minorDigits(currency);
  const format = digits === 0 ? '' : `    format 1000.${'0'.repeat(digits)} ${currency}\n`;
  return `commodity ${currency}\n${format}\n`;
}

const wordsOf = (today: string, unit: JournalUnit, currency: string): string => `\
; The ledger of Tarebook as of ${today}, as a journal of double entries.
;
; Weights are in ${unit}, and every grade is a commodity of its own ("${unit} No. 2 copper"). Every microgram that the ledger
; holds is in them: g, kg and tonne are exact to it, pounds and ounces are not, because a microgram of them has no end.
; What was taken back stands beside what took it back.
;
; Mass:Bins:CODE, Mass:Loads:YARD:MANIFEST:LOAD  what is there now
; Mass:Outside                                   where material comes from, so it is negative
; Mass:Items:NUMBER KIND                         what came out of an item, so it is negative too
; Mass:Sold, Deducted, Scale difference          where loads went, by the yards' tickets
; Mass:Count difference                          what recounts and loading found missing (positive) or found (negative)
;
; Money is in ${currency}, and of the tickets that count. What was expected of the loads (negative) and every effect that took
; something away (positive; one that added something is negative) leave what was received:
; Money:Expected:GRADE, Money:Effects:EFFECT, Money:Received:HOW
;
; Signs in names and notes that mean something in a journal are written as in an address: %3B is a semicolon. A name that
; is cut because it is very long ends with the number of its row.
`;
