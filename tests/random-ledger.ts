import fc from 'fast-check';
import type { Ledger } from '../server/context.ts';
import {
  correctInWeight,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoBinDocument,
  undoInWeight,
} from '../server/ledger/acts.ts';
import { draftManifest } from '../server/manifests/acts.ts';
import { loadManifest } from '../server/manifests/loading.ts';
import { listManifests, loadsOf } from '../server/manifests/queries.ts';
import { amountMinor } from '../server/money/money.ts';
import { recordQuote } from '../server/prices/acts.ts';
import { Refusal } from '../server/refusal.ts';
import { addGrades } from '../server/setup/acts.ts';
import { recordTicket, replaceTicket, returnLoad, type TicketInput, undoLoading } from '../server/tickets/acts.ts';
import { letTicketStandAgain, takeTicketBack } from '../server/tickets/take-back.ts';
import { type Day, day } from '../server/units/day.ts';
import { massUg } from '../server/units/mass.ts';
import { gradeSeed, newBin, newItem, newLedger, newYard } from './helper.ts';
import { HOSTILE } from './hostile.ts';

// A ledger of any names and any acts, for what has to stand any ledger.

const BINS = 6;
const ITEMS = 3;

/** A name or note as somebody could type it, or as a file or another program could bring it in. */
const words = fc.oneof(
  fc.constantFrom(...HOSTILE),
  fc.string({ unit: 'binary', minLength: 1, maxLength: 30 }).map((text) => text.toWellFormed()),
  fc.constantFrom(
    'two\nlines',
    'a\r\n2025-01-01 * x\n    A  1 USD\n    B',
    '\u2028',
    'x'.repeat(199),
    '鉄'.repeat(150),
    'end  ',
  ),
);
const name = words.map((text) => text.trim()).filter((text) => text !== '' && !text.includes('\0'));
const days = fc.integer({ min: 1, max: 20 }).map((date) => day(`2025-03-${String(date).padStart(2, '0')}`));
const bin = fc.integer({ min: 1, max: BINS });
const mass = fc.integer({ min: 1, max: 60_000_000_000 });
const index = fc.nat(12);

type Act = (ledger: Ledger) => void;

const weighing = (binId: number, grams: number, occurredOn: Day, note: string) => ({
  binId,
  scaleId: null,
  containerId: null,
  grossTyped: String(grams),
  tareTyped: '0',
  unit: 'g' as const,
  grossUg: massUg(grams),
  tareUg: massUg(0),
  occurredOn,
  isEstimate: false,
  note,
});

const manifestAt = ({ db }: Ledger, at: number) => {
  const all = listManifests(db, { yardId: null, status: null }, 0, 100);
  return all[at % Math.max(1, all.length)];
};

/** A ticket over some loads of a manifest, with figures that have nothing to do with the home weights. */
function ticketFor(ledger: Ledger, at: number, note: string, sizes: number[]): TicketInput {
  const manifest = manifestAt(ledger, at);
  const loads = manifest === undefined ? [] : loadsOf(ledger.db, manifest.id);
  const lines = sizes.slice(0, loads.length + 1).map((net, place) => ({
    lineNo: place + 1,
    description: note,
    gradeId: 1 + (net % BINS),
    // The line after the last load pays for nothing that was on the manifest.
    loadIds: loads[place] === undefined ? [] : [loads[place].id],
    ...{ gross: String(net + 3), tare: '1', deduction: '2', net: String(net), price: '1.25' },
    ...({ unit: 'lb', per: 'lb', amountMinor: amountMinor(net * 125 + (net % 3)) } as const),
  }));
  const foot = {
    chargesMinor: amountMinor(sizes[0] ?? 0),
    taxMinor: amountMinor(-7),
    cashRoundingMinor: amountMinor(2),
  };
  const totals = { ...foot, totalMinor: amountMinor((sizes[0] ?? 0) * 100), paidBy: 'card' } as const;
  const yardId = manifest?.yard_id ?? 1;
  const base = { yardId, manifestId: manifest?.id ?? 0, number: note, soldOn: day('2025-03-20'), note, lines };
  return { ...base, totals: (sizes[0] ?? 0) % 4 === 0 ? null : totals };
}

const sizes = fc.array(fc.integer({ min: 0, max: 90 }), { minLength: 1, maxLength: 4 });
const acts: fc.Arbitrary<Act> = fc.oneof(
  fc.tuple(bin, mass, days, words).map(
    ([binId, grams, on, note]): Act =>
      (ledger) => {
        recordInWeight(ledger, weighing(binId, grams, on, note));
      },
  ),
  fc.tuple(bin, mass, days, words, fc.integer({ min: 1, max: ITEMS })).map(
    ([binId, grams, on, note, itemId]): Act =>
      (ledger) => {
        recordInWeight(ledger, { ...weighing(binId, grams, on, note), itemId });
      },
  ),
  index.map(
    (id): Act =>
      (ledger) =>
        undoInWeight(ledger, id, true),
  ),
  fc.tuple(index, bin, mass, days, words).map(
    ([id, binId, grams, on, note]): Act =>
      (ledger) => {
        correctInWeight(ledger, id, weighing(binId, grams, on, note), note, true);
      },
  ),
  fc.tuple(bin, mass, days, words).map(
    ([binId, netUg, occurredOn, note]): Act =>
      (ledger) => {
        recordRecount(ledger, { binId, netTyped: '', unit: 'g', netUg: massUg(netUg), occurredOn, note });
      },
  ),
  fc.tuple(bin, bin, mass, days, words).map(
    ([fromBinId, toBinId, netUg, occurredOn, note]): Act =>
      (ledger) => {
        const typed = { netTyped: '', unit: 'g', note, bookShortfall: true } as const;
        recordBinTransfer(ledger, { fromBinId, toBinId, netUg: massUg(netUg), occurredOn, ...typed });
      },
  ),
  fc.tuple(fc.constantFrom('recount' as const, 'bin_transfer' as const), index).map(
    ([kind, id]): Act =>
      (ledger) => {
        undoBinDocument(ledger, kind, id);
      },
  ),
  fc.tuple(fc.array(bin, { minLength: 1, maxLength: 3 }), name, days).map(
    ([binIds, number, on]): Act =>
      (ledger) => {
        const id = draftManifest(ledger, { yardId: 1 + (binIds.length % 2), binIds, note: '', number });
        loadManifest(ledger, id, on, true);
      },
  ),
  fc.tuple(index, name, sizes).map(
    ([at, note, nets]): Act =>
      (ledger) => {
        recordTicket(ledger, ticketFor(ledger, at, note, nets));
      },
  ),
  fc.tuple(index, name, sizes).map(
    ([at, note, nets]): Act =>
      (ledger) => {
        replaceTicket(ledger, at, ticketFor(ledger, at, note, nets), note);
      },
  ),
  fc.tuple(index, words).map(
    ([id, reason]): Act =>
      (ledger) =>
        takeTicketBack(ledger, id, reason),
  ),
  index.map(
    (id): Act =>
      (ledger) =>
        letTicketStandAgain(ledger, id),
  ),
  fc.tuple(index, days, words).map(
    ([id, on, reason]): Act =>
      (ledger) =>
        returnLoad(ledger, id, on, reason),
  ),
  index.map(
    (at): Act =>
      (ledger) =>
        undoLoading(ledger, manifestAt(ledger, at)?.id ?? 0),
  ),
  fc.tuple(fc.integer({ min: 1, max: BINS }), fc.integer({ min: 0, max: 999_999 }), days).map(
    ([gradeId, price, seenOn]): Act =>
      (ledger) => {
        const per = price % 5 === 0 ? 'kg' : 'lb';
        const yardId = 1 + (price % 2);
        recordQuote(ledger, { yardId, gradeId, price: `0.${price}`, per, seenOn, seenWhere: '' });
      },
  ),
);

/** Names and acts of a ledger; `fillRandom` makes it of them. */
export const anyLedger = fc.record({
  names: fc.uniqueArray(name, { minLength: BINS + 2, maxLength: BINS + 2, selector: (text) => text.toLowerCase() }),
  sequence: fc.array(acts, { minLength: 30, maxLength: 90, size: 'max' }),
});

/** A ledger in memory with bins, grades and yards of these names, in which as many of the acts were done as it takes. */
export function fillRandom({ names, sequence }: { names: string[]; sequence: Act[] }): Ledger {
  const ledger = newLedger();
  const own = names.slice(0, BINS);
  addGrades(
    ledger,
    own.map((each) => gradeSeed(each, 'copper')),
  );
  for (const each of own) newBin(ledger, each, each);
  for (const each of names.slice(BINS)) newYard(ledger, each);
  // Kinds of items may be called as a grade is.
  for (const each of own.slice(0, ITEMS)) newItem(ledger, each);
  for (let id = 1; id <= BINS; id += 1) recordInWeight(ledger, weighing(id, 90_000_000_000, day('2025-03-01'), ''));
  for (const act of sequence) {
    try {
      act(ledger);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
    }
  }
  return ledger;
}
