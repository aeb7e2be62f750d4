import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { importFile } from '../../server/files/acts.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { importKinds } from '../../server/files/imports/kinds.ts';
import { closeItem, correctItem, kindNamed, pickUp, removeItem, reopenItem } from '../../server/items/acts.ts';
import {
  correctInWeight,
  type InWeightInput,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoInWeight,
} from '../../server/ledger/acts.ts';
import { gradeFamilies } from '../../server/ledger/families.ts';
import { draftManifest, setDraftAside, weighLoads } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { listManifests, loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { letQuoteStandAgain, recordQuote, takeQuoteBack } from '../../server/prices/acts.ts';
import { Refusal } from '../../server/refusal.ts';
import { recordCheck, undoCheck } from '../../server/scales/acts.ts';
import { addGrades, closeBin, removeYardScale, saveScale, saveYard, saveYardScale } from '../../server/setup/acts.ts';
import { findYard, yardScalesOf } from '../../server/setup/queries.ts';
import {
  recordTicket,
  replaceTicket,
  returnLoad,
  type TicketInput,
  type TicketTotals,
  undoLoadReturn,
} from '../../server/tickets/acts.ts';
import type { PrintedLine } from '../../server/tickets/compute.ts';
import { allStandingTickets } from '../../server/tickets/queries.ts';
import { letTicketStandAgain, takeTicketBack } from '../../server/tickets/take-back.ts';
import { day } from '../../server/units/day.ts';
import { readWeight } from '../../server/units/read-weight.ts';
import { newBin, newLedger, newYard, setUpWorkedExample } from '../helper.ts';

// A ledger with every kind of trouble in it, taken out as files and brought into an empty one, gives the same files
// byte for byte: recounts, moves, corrections, replaced tickets, returned loads and drafts are not in the files, and
// what stands is all there. Expected values: the files themselves.

const BINS = 6;
const pickBin = fc.integer({ min: 1, max: BINS });
const pickGrade = fc.integer({ min: 1, max: 6 });
const pickYard = fc.integer({ min: 1, max: 2 });
const pickIndex = fc.nat(12);
const pickDay = fc.integer({ min: 1, max: 20 }).map((date) => day(`2025-03-${String(date).padStart(2, '0')}`));
const pickUnit = fc.constantFrom('lb' as const, 'kg' as const, 'g' as const, 'oz' as const);
/** Weights as people type them: groups, mixed units, a unit of their own, more and fewer decimals. */
const pickTyped = fc.oneof(
  fc.integer({ min: 1, max: 99_999 }).map((hundredths) => `${Math.floor(hundredths / 100)}.${hundredths % 100}5`),
  fc.constantFrom('12', '12.40', '1,204.5', '3 lb 7 oz', '2 lb 0.3 oz', '0.000001', '7 kg', '1.02 lb', '.5', '34#'),
);
const pickTare = fc.constantFrom('0', '0.5', '2 lb 1 oz', '0.25 kg', '0.000001');
const pickNote = fc.oneof(
  fc.constantFrom('', '=1+1', "'=x", "''-5", '-5', '+', '@home', "'plain", 'a, "b"', 'two\r\nlines', 'two\nlines', ';'),
  fc.string({ unit: 'grapheme', maxLength: 12 }).map((text) => text.replace(/\p{Cc}/gu, '').trim()),
);
const pickNumber = fc.constantFrom('70011', '70011', 'a', 'A', '70011 (2)', '=5', "'@7");

const weigh = (typed: string, unit: 'lb' | 'kg' | 'g' | 'oz') => {
  const read = readWeight(typed, { unit, decimalMark: '.', zeroAllowed: true });
  if (!read.ok) throw new Error(read.refusal);
  return read.value.massUg;
};

const weighing = fc.tuple(pickBin, pickTyped, pickTare, pickUnit, pickDay, pickNote, fc.boolean()).map(
  ([binId, grossTyped, tareTyped, unit, occurredOn, note, isEstimate]): InWeightInput => ({
    binId,
    scaleId: isEstimate ? 1 : null,
    containerId: null,
    grossTyped,
    tareTyped,
    unit,
    grossUg: weigh(grossTyped, unit),
    tareUg: weigh(tareTyped, unit),
    occurredOn,
    isEstimate,
    note,
  }),
);

type Act = (ledger: Ledger) => void;

const manifestAt = ({ db }: Ledger, index: number) => {
  const all = listManifests(db, { yardId: null, status: null }, 0, 100);
  return all[index % Math.max(1, all.length)];
};

interface Paper {
  number: string;
  sizes: number[];
  shape: 'apart' | 'together' | 'none';
  totals: TicketTotals | null;
}
const paper: fc.Arbitrary<Paper> = fc.record({
  number: pickNumber,
  sizes: fc.array(fc.integer({ min: 0, max: 90 }), { minLength: 1, maxLength: 3 }),
  shape: fc.constantFrom('apart' as const, 'together' as const, 'none' as const),
  totals: fc.option(
    fc.record({
      chargesMinor: fc.integer({ min: 0, max: 900 }).map(amountMinor),
      taxMinor: fc.integer({ min: -50, max: 50 }).map(amountMinor),
      cashRoundingMinor: fc.integer({ min: -4, max: 4 }).map(amountMinor),
      totalMinor: fc.integer({ min: 0, max: 90_000 }).map(amountMinor),
      paidBy: fc.constantFrom('cash' as const, 'cheque' as const, 'other' as const),
    }),
  ),
});

function ticketFor(ledger: Ledger, index: number, { number, sizes, shape, totals }: Paper): TicketInput {
  const manifest = manifestAt(ledger, index);
  const ids = manifest === undefined ? [] : loadsOf(ledger.db, manifest.id).map((load) => load.id);
  const groups = shape === 'together' ? [ids] : shape === 'none' ? [[]] : ids.map((id) => [id]);
  const lines = groups.slice(0, sizes.length).map((loadIds, at): PrintedLine => {
    const net = sizes[at] ?? 1;
    const unit = net % 7 === 0 ? 'each' : 'lb';
    return {
      lineNo: at + 1,
      description: 'as printed',
      gradeId: 1 + (net % 5),
      loadIds,
      gross: `${net + 3}.0`,
      tare: '1',
      deduction: net % 2 === 0 ? '2.0' : '5%',
      net: `${net}.0`,
      unit,
      price: '1.250',
      per: unit,
      amountMinor: amountMinor(net * 125 + (net % 3)),
    };
  });
  const yardId = manifest?.yard_id ?? 1;
  return { yardId, manifestId: manifest?.id ?? 0, number, soldOn: day('2025-03-20'), note: '', lines, totals };
}

const acts: fc.Arbitrary<Act> = fc.oneof(
  {
    weight: 4,
    arbitrary: weighing.map(
      (input): Act =>
        (ledger) =>
          void recordInWeight(ledger, input),
    ),
  },
  fc.tuple(pickIndex, weighing).map(
    ([id, input]): Act =>
      (ledger) => {
        correctInWeight(ledger, id, input, 'because', true);
      },
  ),
  pickIndex.map(
    (id): Act =>
      (ledger) =>
        undoInWeight(ledger, id, true),
  ),
  fc.tuple(pickBin, pickTyped, pickDay).map(
    ([binId, netTyped, occurredOn]): Act =>
      (ledger) => {
        recordRecount(ledger, { binId, netTyped, unit: 'lb', netUg: weigh(netTyped, 'lb'), occurredOn, note: '' });
      },
  ),
  fc.tuple(pickBin, pickBin, pickTyped, pickDay).map(
    ([fromBinId, toBinId, netTyped, occurredOn]): Act =>
      (ledger) => {
        const netUg = weigh(netTyped, 'lb');
        recordBinTransfer(ledger, {
          fromBinId,
          toBinId,
          netTyped,
          unit: 'lb',
          netUg,
          occurredOn,
          note: '',
          bookShortfall: true,
        });
      },
  ),
  fc
    .tuple(pickYard, pickGrade, fc.constantFrom('3.60', '0', '190', '1.005'), pickDay, fc.constantFrom('lb', 'each'))
    .map(
      ([yardId, gradeId, price, seenOn, per]): Act =>
        (ledger) => {
          recordQuote(ledger, { yardId, gradeId, price, per: per as 'lb' | 'each', seenOn, seenWhere: 'board' });
        },
    ),
  {
    weight: 4,
    arbitrary: fc
      .tuple(pickYard, fc.uniqueArray(pickBin, { minLength: 1, maxLength: 4 }), pickTyped, pickUnit, pickDay)
      .map(
        ([yardId, binIds, typed, unit, on]): Act =>
          (ledger) => {
            const id = draftManifest(ledger, { yardId, binIds, note: '' });
            const [line] = loadsOf(ledger.db, id);
            const massUg = weigh(typed, unit);
            const weighed = {
              grossTyped: typed,
              tareTyped: '0',
              netTyped: '',
              unit,
              massUg,
              containerId: null,
              scaleId: null,
            };
            if (line) weighLoads(ledger, id, [{ lineId: line.id, emptiesBin: unit === 'lb', ...weighed }]);
            loadManifest(ledger, id, on, true);
          },
      ),
  },
  pickYard.map(
    (yardId): Act =>
      (ledger) => {
        setDraftAside(ledger, draftManifest(ledger, { yardId, binIds: [1], note: '' }));
        draftManifest(ledger, { yardId, binIds: [2], note: '' });
      },
  ),
  {
    weight: 3,
    arbitrary: fc.tuple(pickIndex, paper).map(
      ([index, printed]): Act =>
        (ledger) => {
          recordTicket(ledger, ticketFor(ledger, index, printed));
        },
    ),
  },
  fc.tuple(pickIndex, paper).map(
    ([index, printed]): Act =>
      (ledger) => {
        const ticket = allStandingTickets(ledger.db)[index];
        const at = listManifests(ledger.db, { yardId: null, status: null }, 0, 100).findIndex(
          ({ id }) => id === ticket?.manifest_id,
        );
        if (ticket) replaceTicket(ledger, ticket.id, ticketFor(ledger, at, printed), 'typed wrong');
      },
  ),
  {
    weight: 2,
    arbitrary: fc.tuple(pickIndex, pickDay).map(
      ([id, on]): Act =>
        (ledger) =>
          returnLoad(ledger, id, on, ''),
    ),
  },
  pickIndex.map(
    (id): Act =>
      (ledger) =>
        undoLoadReturn(ledger, id),
  ),
  fc.tuple(pickIndex, fc.boolean()).map(
    ([id, isBack]): Act =>
      (ledger) =>
        (isBack ? takeQuoteBack : letQuoteStandAgain)(ledger, id),
  ),
  fc.tuple(pickIndex, fc.boolean()).map(
    ([id, isBack]): Act =>
      (ledger) =>
        isBack ? takeTicketBack(ledger, id, 'of another run') : letTicketStandAgain(ledger, id),
  ),
  pickBin.map(
    (id): Act =>
      (ledger) =>
        closeBin(ledger, id),
  ),
  fc.tuple(fc.integer({ min: 1, max: 2 }), pickTyped, pickTare, pickUnit, pickDay, pickNote, fc.boolean()).map(
    ([scaleId, weightTyped, readingTyped, unit, checkedOn, note, isAdjusted]): Act =>
      (ledger) => {
        const [weightUg, readingUg] = [weigh(weightTyped, unit), weigh(readingTyped, unit)];
        recordCheck(ledger, {
          scaleId,
          checkedOn,
          weightTyped,
          readingTyped,
          unit,
          weightUg,
          readingUg,
          isAdjusted,
          note,
        });
      },
  ),
  pickIndex.map(
    (id): Act =>
      (ledger) =>
        undoCheck(ledger, id),
  ),
  fc
    .tuple(
      pickYard,
      fc.constantFrom('truck scale', '=shed', '@floor'),
      fc.constantFrom('', '20', '0.5', '10 kg'),
      fc.subarray([...gradeFamilies]),
    )
    .map(
      ([yardId, name, division, families]): Act =>
        (ledger) => {
          // As its form keeps it: with a unit only where that is not the one of the yard's tickets.
          const own = division.replace(` ${findYard(ledger.db, yardId)?.unit}`, '');
          saveYardScale(ledger, yardId, null, { name, division: own, class: own === '' ? '' : 'III L', families });
        },
    ),
  fc.tuple(pickYard, fc.nat(2)).map(
    ([yardId, index]): Act =>
      (ledger) => {
        const scale = yardScalesOf(ledger.db, yardId)[index];
        if (scale !== undefined) removeYardScale(ledger, scale);
      },
  ),
  fc.tuple(pickYard, fc.constantFrom('lb' as const, 'kg' as const)).map(
    ([yardId, unit]): Act =>
      (ledger) => {
        const yard = findYard(ledger.db, yardId);
        // A stored group without a ticket line keeps the unit that its yard had then, so not once there are tickets.
        if (yard === undefined || allStandingTickets(ledger.db).length > 0) return;
        saveYard(ledger, yardId, { ...yard, unit });
      },
  ),
);

const pickItem = fc.integer({ min: 1, max: 5 });
const pickKind = fc.constantFrom('tap', '=fan', 'Ofen, "groß"', "'@box");
const items: fc.Arbitrary<Act> = fc.oneof(
  fc
    .record({
      kind: pickKind,
      typed: fc.option(pickTyped),
      unit: pickUnit,
      pickedUpOn: pickDay,
      got: fc.constantFrom('given' as const, 'found' as const, 'bought' as const),
      text: pickNote,
      cost: fc.integer({ min: 0, max: 5000 }).map(amountMinor),
      isCorrection: fc.boolean(),
      id: pickItem,
    })
    .map(
      ({ kind, typed, unit, pickedUpOn, got, text, cost, isCorrection, id }): Act =>
        (ledger) => {
          const read = typed === null ? null : readWeight(typed, { unit, decimalMark: '.' });
          const input = {
            kindId: kindNamed(ledger, kind),
            name: text.replace(/\s+/g, ' ').trim(),
            pickedUpOn,
            got,
            source: text.replace(/\s+/g, ' ').trim(),
            proof: text,
            costMinor: cost,
            weight: read?.ok ? read.value : null,
            note: text,
          };
          if (isCorrection) correctItem(ledger, id, input);
          else pickUp(ledger, input);
        },
    ),
  fc.tuple(pickItem, weighing).map(
    ([itemId, input]): Act =>
      (ledger) => {
        recordInWeight(ledger, { ...input, itemId });
      },
  ),
  fc
    .tuple(
      pickItem,
      fc.constantFrom('taken apart' as const, 'as is' as const, 'sold whole' as const, 'discarded' as const),
      pickDay,
    )
    .map(
      ([id, status, closedOn]): Act =>
        (ledger) =>
          closeItem(ledger, id, { status, depth: 'fine', closedOn, disposalMinor: amountMinor(id * 7) }),
    ),
  pickItem.map(
    (id): Act =>
      (ledger) =>
        reopenItem(ledger, id),
  ),
  pickItem.map(
    (id): Act =>
      (ledger) =>
        removeItem(ledger, id),
  ),
);
const anything: fc.Arbitrary<Act> = fc.oneof({ weight: 3, arbitrary: acts }, { weight: 1, arbitrary: items });

function begin(): Ledger {
  const ledger = newLedger();
  setUpWorkedExample(ledger);
  newYard(ledger, '\'=Demo, "Yard" South');
  const plain = { family: 'copper', quoted_per: 'each', code: '@x', recognise: '', spoiled_by: '' } as const;
  addGrades(ledger, [{ ...plain, name: '-=Gräde', fallsBackTo: null }]);
  newBin(ledger, 'ZZ-9', '-=Gräde');
  saveScale(ledger, null, { name: '+bench', division: '0.05', unit: 'lb', class: 'III', tolerance: '', capacity: '' });
  saveScale(ledger, null, { name: 'Pan', division: '', unit: 'g', class: '', tolerance: '', capacity: '' });
  return ledger;
}

const exportAll = (ledger: Ledger): Map<string, string> =>
  new Map(
    importKinds.map(({ name }) => {
      const file = findExport(name);
      if (file === undefined) throw new Error(`no export ${name}`);
      return [name, writeExport(ledger, file, {})];
    }),
  );

function importAll(files: Map<string, string>): Ledger {
  const ledger = newLedger();
  for (const kind of importKinds) {
    const report = importFile(ledger, kind, Buffer.from(files.get(kind.name) ?? ''), false);
    expect([kind.name, report.problems]).toEqual([kind.name, []]);
  }
  return ledger;
}

const broken = (ledger: Ledger) => checkLedger(ledger).filter(({ found }) => found.length > 0);

test('export, import into an empty ledger, export: byte for byte the same, whatever happened before', () => {
  fc.assert(
    fc.property(fc.array(anything, { minLength: 5, maxLength: 45 }), (sequence) => {
      const ledger = begin();
      for (const act of sequence) {
        try {
          act(ledger);
        } catch (error) {
          if (!(error instanceof Refusal)) throw error;
        }
      }
      expect(broken(ledger)).toEqual([]);
      const files = exportAll(ledger);
      const again = importAll(files);
      expect(exportAll(again)).toEqual(files);
      expect(broken(again)).toEqual([]);
      ledger.db.close();
      again.db.close();
    }),
    { numRuns: 150 },
  );
}, 120_000);

test('the sequences do reach the trouble they are meant for', () => {
  const seen = {
    takenBack: 0,
    quotesBack: 0,
    tickets: 0,
    loads: 0,
    none: 0,
    doubled: 0,
    totals: 0,
    checks: 0,
    yardScales: 0,
    items: 0,
    ofItems: 0,
  };
  for (const sequence of fc.sample(fc.array(anything, { minLength: 40, maxLength: 60 }), { numRuns: 40, seed: 7 })) {
    const ledger = begin();
    for (const act of sequence) {
      try {
        act(ledger);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
      }
    }
    const files = exportAll(ledger);
    const rows = (name: string) => (files.get(name) ?? '').split('\r\n').length - 2;
    const count = (table: string) => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get() as number;
    seen.takenBack += count('ticket_take_back');
    seen.quotesBack += count('quote_take_back');
    seen.tickets += rows('ticket-lines');
    seen.totals += rows('ticket-totals');
    seen.checks += rows('scale-checks');
    seen.yardScales += rows('yard-scales');
    seen.items += rows('items');
    seen.ofItems += count('in_weight where item_id is not null');
    seen.loads += rows('loads');
    seen.none += (files.get('loads') ?? '').split(',none,').length - 1;
    seen.doubled += (files.get('ticket-lines') ?? '').split(' (2)').length - 1;
    ledger.db.close();
  }
  expect(
    Object.values(seen).every((count) => count > 0),
    JSON.stringify(seen),
  ).toBe(true);
});

test('a price and a ticket that were taken back are in no file, and their loads come as still waiting', () => {
  const ledger = begin();
  const manifest = (number: string) => {
    const id = draftManifest(ledger, { yardId: 1, binIds: [1], note: '', number });
    recordInWeight(ledger, { ...bareInWeight, binId: 1 });
    loadManifest(ledger, id, day('2025-03-05'), true);
    return id;
  };
  const quote = { yardId: 1, gradeId: 1, per: 'lb', seenOn: day('2025-03-01'), seenWhere: '' } as const;
  recordQuote(ledger, { ...quote, price: '3.60' });
  takeQuoteBack(ledger, recordQuote(ledger, { ...quote, price: '36' }));
  const [kept, gone] = ['K', 'G'].map((number) => {
    const manifestId = manifest(number);
    const [load] = loadsOf(ledger.db, manifestId);
    const figures = { gross: '12', tare: '0', deduction: '0', net: '12', unit: 'lb', price: '3', per: 'lb' } as const;
    const line = {
      lineNo: 1,
      description: '',
      gradeId: 1,
      loadIds: [load?.id ?? 0],
      ...figures,
      amountMinor: amountMinor(3600),
    };
    const head = { yardId: 1, manifestId, number: `T-${number}`, soldOn: day('2025-03-06'), note: '' };
    return recordTicket(ledger, { ...head, lines: [line], totals: null });
  });
  takeTicketBack(ledger, gone ?? 0, 'twice');
  const files = exportAll(ledger);
  expect(files.get('quotes')?.match(/3\.60|36/g)).toEqual(['3.60']);
  expect(files.get('ticket-lines')?.match(/T-\w/g)).toEqual(['T-K']);
  expect(files.get('loads')?.match(/,[KG],/g)).toEqual([',K,', ',G,']);
  const again = importAll(files);
  expect(exportAll(again)).toEqual(files);
  expect(broken(again)).toEqual([]);
  letTicketStandAgain(ledger, gone ?? 0);
  expect(exportAll(ledger).get('ticket-lines')?.match(/T-\w/g)).toEqual(['T-K', 'T-G']);
  expect(kept).toBeGreaterThan(0);
});

const bareInWeight: InWeightInput = {
  binId: 1,
  scaleId: null,
  containerId: null,
  grossTyped: '12',
  tareTyped: '0',
  unit: 'lb',
  grossUg: weigh('12', 'lb'),
  tareUg: weigh('0', 'lb'),
  occurredOn: day('2025-03-01'),
  isEstimate: false,
  note: '',
};

describe('what random acts seldom reach', () => {
  const again = (ledger: Ledger) => {
    const files = exportAll(ledger);
    expect(exportAll(importAll(files))).toEqual(files);
    return (name: string) => (files.get(name) ?? '').trim().split('\r\n').slice(1);
  };
  const draft = (ledger: Ledger, binId: number, typed: string | null, emptiesBin: boolean, on: string) => {
    const id = draftManifest(ledger, { yardId: 1, binIds: [binId], note: '' });
    const [line] = loadsOf(ledger.db, id);
    const massUg = typed === null ? null : weigh(typed, 'lb');
    const weighed = { grossTyped: typed ?? '', tareTyped: '0', netTyped: '', unit: 'lb' as const };
    const where = { lineId: line?.id ?? 0, containerId: null, scaleId: null };
    weighLoads(ledger, id, [{ ...where, ...weighed, massUg, emptiesBin }]);
    loadManifest(ledger, id, day(on), true);
    return { id, loadId: line?.id ?? 0 };
  };
  const bare = (grossTyped: string): InWeightInput => ({
    binId: 1,
    scaleId: null,
    containerId: null,
    grossTyped,
    tareTyped: '0',
    unit: 'lb',
    grossUg: weigh(grossTyped, 'lb'),
    tareUg: weigh('0', 'lb'),
    occurredOn: day('2025-03-01'),
    isEstimate: false,
    note: '',
  });

  test('a manifest whose loads all came back is given whole while a ticket stands for it', () => {
    const ledger = begin();
    const { id, loadId } = draft(ledger, 1, '10', true, '2025-03-02');
    const line: Omit<PrintedLine, 'amountMinor'> = {
      lineNo: 1,
      description: '',
      gradeId: 1,
      loadIds: [],
      gross: '5',
      tare: '0',
      deduction: '0',
      net: '5',
      unit: 'lb',
      price: '1.00',
      per: 'lb',
    };
    const lines = [{ ...line, amountMinor: amountMinor(500) }];
    const head = { yardId: 1, manifestId: id, number: '9', soldOn: day('2025-03-02'), note: '' };
    recordTicket(ledger, { ...head, lines, totals: null });
    returnLoad(ledger, loadId, day('2025-03-03'), 'refused');
    const rows = again(ledger);
    expect([rows('loads').length, rows('ticket-lines').length]).toEqual([1, 1]);
  });

  test('a load of one microgram, left over where pounds were added up, is still a load', () => {
    const ledger = begin();
    // 1.01 lb is 458 128 293.7 µg and kept as 294 µg, so twice 1.01 lb is 1 µg above 2.02 lb.
    for (const gross of ['1.01', '1.01']) recordInWeight(ledger, bare(gross));
    draft(ledger, 1, '2.02', false, '2025-03-02');
    draft(ledger, 1, null, false, '2025-03-02');
    expect(again(ledger)('loads').map((row) => row.split(',').slice(5, 7))).toEqual([
      ['2.0200', 'lb'],
      ['0.000001', 'g'],
    ]);
  });

  test('loads come by the day of loading, whatever order they were written down in', () => {
    const ledger = begin();
    draft(ledger, 1, '1', false, '2025-03-09');
    draft(ledger, 2, '2', false, '2025-03-02');
    expect(again(ledger)('loads').map((row) => row.split(',')[2])).toEqual(['2025-03-02', '2025-03-09']);
  });
});
