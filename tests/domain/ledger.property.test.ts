import fc from 'fast-check';
import { sql } from 'kysely';
import { expect, test } from 'vitest';
import { saveWireKind } from '../../server/bench/acts.ts';
import { recordStripping } from '../../server/bench/stripping.ts';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { putBack } from '../../server/history/acts.ts';
import { closeItem, reopenItem } from '../../server/items/acts.ts';
import { itemSharesOff, layersOff } from '../../server/layers/verify.ts';
import {
  type BinDocumentKind,
  correctInWeight,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoBinDocument,
  undoInWeight,
} from '../../server/ledger/acts.ts';
import {
  addBinToDraft,
  copyToDraft,
  draftManifest,
  setDraftAside,
  takeDraftUp,
  weighLoads,
} from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { listManifests, loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { letQuoteStandAgain, recordPriceBoard, recordQuote, takeQuoteBack } from '../../server/prices/acts.ts';
import { Refusal } from '../../server/refusal.ts';
import { changeBin } from '../../server/setup/acts.ts';
import { recordTicket, replaceTicket, returnLoad, undoLoading, undoLoadReturn } from '../../server/tickets/acts.ts';
import type { PrintedLine } from '../../server/tickets/compute.ts';
import { standingTicketsOf } from '../../server/tickets/queries.ts';
import { letTicketStandAgain, takeTicketBack } from '../../server/tickets/take-back.ts';
import { day } from '../../server/units/day.ts';
import { massUg } from '../../server/units/mass.ts';
import { newItem, newLedger, setUpWorkedExample } from '../helper.ts';

// Mass is conserved under any sequence of acts: random acts with random figures on a real ledger, refusals included;
// after every one of them the balances are recomputed from the transfers and the invariants of the model are looked at.

const BINS = 5;
const GRADES = 5;
const ITEMS = 3;
const pickBin = fc.integer({ min: 1, max: BINS });
const pickMass = fc.integer({ min: 1, max: 60_000_000_000 });
const pickDay = fc.integer({ min: 1, max: 20 }).map((n) => day(`2025-03-${String(n).padStart(2, '0')}`));
const pickIndex = fc.nat(20);
const pickItem = fc.integer({ min: 1, max: ITEMS });

type Act = (ledger: Ledger, yardId: number) => void;
const GRAMS = 1_000_000;

const weighing = (binId: number, mass: number, occurredOn: ReturnType<typeof day>) => ({
  binId,
  scaleId: null,
  containerId: null,
  grossTyped: String(mass),
  tareTyped: '0',
  unit: 'g' as const,
  grossUg: massUg(mass),
  tareUg: massUg(0),
  occurredOn,
  isEstimate: false,
  note: '',
  // Of one of three items, or of none.
  itemId: mass % (ITEMS + 1) || null,
});

const manifestAt = (ledger: Ledger, index: number) => {
  const all = listManifests(ledger.db, { yardId: null, status: null }, 0, 100);
  return all[index % Math.max(1, all.length)];
};

/** One ticket over some loads of a manifest, with figures that have nothing to do with the home weights. */
function ticketFor(ledger: Ledger, index: number, yardId: number, sizes: number[], together: boolean) {
  const manifest = manifestAt(ledger, index);
  const loads = manifest === undefined ? [] : loadsOf(ledger.db, manifest.id);
  const groups = together ? [loads.map((load) => load.id)] : loads.map((load) => [load.id]);
  const lines = groups.slice(0, sizes.length).map((loadIds, at): PrintedLine => {
    const net = sizes[at] ?? 1;
    const gross = String(net + 3);
    const figures = { gross, tare: '1', deduction: '2', net: String(net), price: '1.25' };
    const money = { unit: 'lb', per: 'lb', amountMinor: amountMinor(net * 125 + (net % 3)) } as const;
    return { lineNo: at + 1, description: '', gradeId: 1 + (net % GRADES), loadIds, ...figures, ...money };
  });
  return {
    yardId,
    manifestId: manifest?.id ?? 0,
    number: '1',
    soldOn: day('2025-03-20'),
    note: '',
    lines,
    totals: null,
  };
}

const acts: fc.Arbitrary<Act> = fc.oneof(
  fc.tuple(pickBin, pickMass, pickDay, pickItem, fc.option(pickIndex)).map(
    ([bin, mass, on, itemId, id]): Act =>
      (ledger) => {
        const input = { ...weighing(bin, mass, on), itemId };
        if (id === null) recordInWeight(ledger, input);
        else correctInWeight(ledger, id, input, 'of an item', true);
      },
  ),
  fc.tuple(pickItem, fc.constantFrom('waiting' as const, 'taken apart' as const, 'discarded' as const), pickDay).map(
    ([id, status, closedOn]): Act =>
      (ledger) => {
        if (status === 'waiting') reopenItem(ledger, id);
        else closeItem(ledger, id, { status, depth: '', closedOn, disposalMinor: amountMinor(5) });
      },
  ),
  fc.tuple(pickBin, pickMass, pickDay).map(
    ([bin, mass, on]): Act =>
      (ledger) => {
        recordInWeight(ledger, weighing(bin, mass, on));
      },
  ),
  fc.tuple(pickIndex, fc.boolean()).map(
    ([id, book]): Act =>
      (ledger) =>
        undoInWeight(ledger, id, book),
  ),
  fc.tuple(pickIndex, pickBin, pickMass, pickDay, fc.boolean()).map(
    ([id, bin, mass, on, book]): Act =>
      (ledger) => {
        correctInWeight(ledger, id, weighing(bin, mass, on), 'because', book);
      },
  ),
  fc.tuple(pickBin, pickMass, pickDay).map(
    ([binId, mass, occurredOn]): Act =>
      (ledger) => {
        recordRecount(ledger, { binId, netTyped: '', unit: 'g', netUg: massUg(mass), occurredOn, note: '' });
      },
  ),
  fc.tuple(pickBin, pickBin, pickMass, pickDay, fc.boolean()).map(
    ([fromBinId, toBinId, mass, occurredOn, bookShortfall]): Act =>
      (ledger) => {
        const typed = { netTyped: '', unit: 'g' as const, note: '' };
        recordBinTransfer(ledger, { fromBinId, toBinId, netUg: massUg(mass), occurredOn, bookShortfall, ...typed });
      },
  ),
  fc.tuple(pickBin, pickBin, pickMass, fc.integer({ min: 1, max: 110 }), pickDay, fc.boolean()).map(
    ([fromBinId, toBinId, mass, percent, occurredOn, bookShortfall]): Act =>
      (ledger) => {
        const typed = { beforeTyped: '', afterTyped: '', unit: 'g' as const, seconds: null, note: '' };
        const afterUg = massUg(Math.max(1, Math.floor((mass * percent) / 100)));
        const bins = { fromBinId, toBinId };
        recordStripping(ledger, {
          ...typed,
          ...bins,
          beforeUg: massUg(mass),
          afterUg,
          occurredOn,
          bookShortfall,
          sampleOf: percent % 2 === 1 ? 1 : null,
        });
      },
  ),
  fc.tuple(fc.constantFrom('recount', 'bin_transfer', 'stripping'), pickIndex).map(
    ([kind, id]): Act =>
      (ledger) => {
        undoBinDocument(ledger, kind as BinDocumentKind, id);
      },
  ),
  fc.array(pickBin, { maxLength: 4 }).map(
    (binIds): Act =>
      (ledger, yardId) => {
        draftManifest(ledger, { yardId, binIds, note: '' });
      },
  ),
  fc.tuple(pickIndex, pickBin).map(
    ([index, bin]): Act =>
      (ledger) => {
        addBinToDraft(ledger, manifestAt(ledger, index)?.id ?? 0, bin);
      },
  ),
  fc.tuple(pickIndex, pickMass, fc.boolean()).map(
    ([index, mass, emptiesBin]): Act =>
      (ledger) => {
        const id = manifestAt(ledger, index)?.id ?? 0;
        const weights = {
          containerId: null,
          scaleId: null,
          grossTyped: '',
          tareTyped: '',
          netTyped: '',
          unit: 'g' as const,
        };
        const lines = loadsOf(ledger.db, id).slice(0, 2);
        weighLoads(
          ledger,
          id,
          lines.map((line) => ({
            lineId: line.id,
            massUg: massUg(mass - (mass % GRAMS) + GRAMS),
            emptiesBin,
            ...weights,
          })),
        );
      },
  ),
  fc.tuple(pickIndex, pickDay, fc.boolean()).map(
    ([index, on, book]): Act =>
      (ledger) => {
        loadManifest(ledger, manifestAt(ledger, index)?.id ?? 0, on, book);
      },
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) =>
        setDraftAside(ledger, manifestAt(ledger, index)?.id ?? 0),
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) => {
        copyToDraft(ledger, manifestAt(ledger, index)?.id ?? 0);
      },
  ),
  fc.tuple(pickIndex, fc.array(fc.integer({ min: 0, max: 90 }), { minLength: 1, maxLength: 4 }), fc.boolean()).map(
    ([index, sizes, together]): Act =>
      (ledger, yardId) => {
        recordTicket(ledger, ticketFor(ledger, index, yardId, sizes, together));
      },
  ),
  fc.tuple(pickIndex, fc.array(fc.integer({ min: 0, max: 90 }), { minLength: 1, maxLength: 4 }), fc.boolean()).map(
    ([index, sizes, together]): Act =>
      (ledger, yardId) => {
        const old = standingTicketsOf(ledger.db, manifestAt(ledger, index)?.id ?? 0)[0];
        replaceTicket(ledger, old?.id ?? 0, ticketFor(ledger, index, yardId, sizes, together), 'typed wrong');
      },
  ),
  fc.tuple(pickIndex, pickDay).map(
    ([id, on]): Act =>
      (ledger) =>
        returnLoad(ledger, id, on, ''),
  ),
  pickIndex.map(
    (id): Act =>
      (ledger) =>
        undoLoadReturn(ledger, id),
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) =>
        undoLoading(ledger, manifestAt(ledger, index)?.id ?? 0),
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) =>
        takeTicketBack(ledger, anyIdOf(ledger, 'ticket', index), 'typed for another manifest'),
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) =>
        letTicketStandAgain(ledger, anyIdOf(ledger, 'ticket', index)),
  ),
  pickIndex.map(
    (index): Act =>
      (ledger) =>
        takeDraftUp(ledger, manifestAt(ledger, index)?.id ?? 0),
  ),
  fc.tuple(pickIndex, fc.boolean()).map(
    ([index, isBack]): Act =>
      (ledger) =>
        (isBack ? takeQuoteBack : letQuoteStandAgain)(ledger, anyIdOf(ledger, 'quote', index)),
  ),
  fc.tuple(fc.integer({ min: 1, max: 500 }), pickDay).map(
    ([cents, seenOn]): Act =>
      (ledger, yardId) => {
        const quote = {
          yardId,
          gradeId: 1 + (cents % GRADES),
          price: String(cents / 100),
          per: 'lb',
          seenWhere: '',
        } as const;
        recordPriceBoard(ledger, [{ ...quote, seenOn }]);
      },
  ),
  // Any line of the trail: a board, an added bin, a changed one, and most often one that cannot be put back.
  fc.nat(200).map(
    (index): Act =>
      (ledger) =>
        putBack(ledger, anyIdOf(ledger, 'event', index)),
  ),
  fc.tuple(pickBin, fc.constantFrom('shelf', 'shed', '')).map(
    ([bin, place]): Act =>
      (ledger) =>
        changeBin(ledger, bin, { place }),
  ),
);

const anyIdOf = ({ db }: Ledger, table: 'ticket' | 'quote' | 'event', index: number): number =>
  (db.sqlite
    .prepare(`select id from ${table} limit 1 offset ? % (select max(1, count(*)) from ${table})`)
    .pluck()
    .get(index) ?? 0) as number;

function expectConserved({ db }: Ledger): void {
  const sums = db.sqlite
    .prepare('select grade_id, sum(mass_ug) from balance group by grade_id')
    .raw()
    .all() as number[][];
  for (const [, sum] of sums) expect(sum).toBe(0);
  const wrong = db.sqlite
    .prepare(
      `select balance.account_id from balance where mass_ug <>
        (select coalesce(sum(mass_ug), 0) from transfer where to_account_id = account_id and grade_id = balance.grade_id)
        - (select coalesce(sum(mass_ug), 0) from transfer where from_account_id = account_id
           and grade_id = balance.grade_id)`,
    )
    .all();
  expect(wrong).toEqual([]);
  const negative = db.sqlite
    .prepare(
      `select kind, mass_ug from balance join account on account.id = account_id
        where kind in ('bin', 'load', 'sold') and mass_ug < 0`,
    )
    .all();
  expect(negative).toEqual([]);
}

test('mass is conserved under any sequence of acts', () => {
  let done = 0;
  let refused = 0;
  let tickets = 0;
  let shares = 0;
  let stripped = 0;
  let takenBack = 0;
  let againCounting = 0;
  fc.assert(
    fc.property(fc.array(acts, { minLength: 20, maxLength: 80, size: 'max' }), (sequence) => {
      const ledger = newLedger();
      const { yardId } = setUpWorkedExample(ledger);
      recordQuote(ledger, { yardId, gradeId: 1, price: '3.60', per: 'lb', seenOn: day('2025-03-01'), seenWhere: '' });
      for (const kind of ['tap', 'fan', 'tap']) newItem(ledger, kind);
      for (const bin of [1, 2, 3, 4, 5])
        recordInWeight(ledger, weighing(bin, 100_000_000_000 + bin, day('2025-03-01')));
      saveWireKind(ledger, null, { name: 'flat cord', grade_id: 3, bare_grade_id: 1, note: '' });
      for (const binIds of [[1, 2], [3, 4], [5]]) {
        loadManifest(ledger, draftManifest(ledger, { yardId, binIds, note: '' }), day('2025-03-08'), false);
      }
      for (const act of sequence) {
        try {
          act(ledger, yardId);
          done += 1;
        } catch (error) {
          if (!(error instanceof Refusal)) throw error;
          refused += 1;
        }
        expectConserved(ledger);
        expect([...layersOff(ledger.db), ...itemSharesOff(ledger.db)]).toEqual([]);
        expect(ledger.db.many(sql`select * from layer_queue where stale_on is not null`)).toEqual([]);
      }
      // The whole of `npm run check`: loads, settlements, groups, sums, words.
      expect(checkLedger(ledger).filter((check) => check.found.length > 0)).toEqual([]);
      stripped += ledger.db.sqlite.prepare('select count(*) from stripping').pluck().get() as number;
      takenBack += ledger.db.sqlite.prepare('select count(*) from ticket_take_back').pluck().get() as number;
      againCounting += ledger.db.sqlite.prepare('select count(*) from ticket_take_back_undone').pluck().get() as number;
      shares += ledger.db.sqlite.prepare('select count(*) from item_share').pluck().get() as number;
      tickets += ledger.db.sqlite.prepare('select count(*) from ticket').pluck().get() as number;
      ledger.db.close();
    }),
    { numRuns: 100, seed: 20250308 },
  );
  // The sequences must really do something, and really be refused something.
  console.log(
    `conservation: ${done} acts done, ${refused} refused, ${tickets} tickets, ${takenBack} taken back, ${againCounting} again, ${shares} shares of items`,
  );
  expect(done).toBeGreaterThan(1000);
  expect(tickets).toBeGreaterThan(50);
  expect(shares).toBeGreaterThan(40);
  expect(stripped).toBeGreaterThan(40);
  expect(takenBack).toBeGreaterThan(20);
  expect(againCounting).toBeGreaterThan(3);
  expect(refused).toBeGreaterThan(100);
}, 120_000);
