import fc from 'fast-check';
import { expect, test } from 'vitest';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { recordCheck } from '../../server/scales/acts.ts';
import { saveScale } from '../../server/setup/acts.ts';
import { listYards, updateYard } from '../../server/setup/queries.ts';
import { recordTicket } from '../../server/tickets/acts.ts';
import { day } from '../../server/units/day.ts';
import { binId, get, lb, newApp, newLedger, newYard, setUpWorkedExample, weighIn } from '../helper.ts';
import { type Sale, ticketOf, weighOut } from '../sales.ts';

// Whatever was sold, at whatever weights, with scales of which all or nothing is known: no page and no file ever shows a
// figure that is none.

const pounds = fc.oneof(
  fc.constantFrom('0.01', '30', '30', '99999.99'),
  fc.integer({ min: 1, max: 200_000 }).map((hundredths) => (hundredths / 100).toFixed(2)),
);
const sale = fc.record({
  bin: fc.constantFrom('CU2', 'FE1'),
  yard: fc.constantFrom(0, 1),
  home: pounds,
  /** Null where the yard agrees with home. */
  atYard: fc.option(pounds),
  scale: fc.constantFrom(0, 1, null),
  byTheBook: fc.boolean(),
  on: fc.constantFrom('2024-12-30', '2025-01-15', '2025-03-01', '2025-03-01', '2025-03-19'),
  price: fc.constantFrom('3.60', '0.01', '0'),
});
const scale = fc.record({
  division: fc.constantFrom('', '0.05', '20'),
  class: fc.constantFrom('', 'III', 'III L', 'unmarked'),
  tolerance: fc.constantFrom('', '0.1'),
});
const check = fc.record({
  scale: fc.constantFrom(0, 1),
  weight: pounds,
  reading: pounds,
  isAdjusted: fc.boolean(),
  on: fc.constantFrom('2025-01-01', '2025-02-01'),
});

const PAGES = [
  '/',
  '/reports',
  '/reports/scales',
  '/reports/scales?yard=1&from=2024-01',
  '/reports/shrinkage',
  '/reports/shrinkage?grade=1&split=yard',
  '/reports/realised-prices?split=yard',
  '/reports/realised-prices?grade=1',
  '/setup/scales',
  '/setup/scales/1',
];
const EXPORTS = ['reconciliation', 'shrinkage', 'realised-prices', 'scale-checks', 'tickets'];
/** Between tags only, or in a drawing's attributes; no name in this ledger has such letters. */
const NO_FIGURE = /NaN|Infinity|undefined|\bnull\b/;

test('no page and no file shows a figure that is none', async () => {
  await fc.assert(
    fc.asyncProperty(
      fc.array(sale, { maxLength: 8 }),
      fc.tuple(scale, scale),
      fc.array(check, { maxLength: 4 }),
      fc.constantFrom('', 'III', 'unmarked'),
      async (sales, scales, checks, yardClass) => {
        const ledger = newLedger();
        setUpWorkedExample(ledger);
        newYard(ledger, 'Demo Yard South');
        const yards = listYards(ledger.db);
        for (const yard of yards) updateYard(ledger.db, yard.id, { ...yard, scale_class: yardClass });
        const scaleIds = scales.map((facts, index) =>
          saveScale(ledger, null, { ...facts, name: `Scale ${index}`, unit: 'lb', capacity: '' }),
        );
        for (const { scale: index, weight, reading, isAdjusted, on } of checks) {
          recordCheck(ledger, {
            scaleId: scaleIds[index] ?? 0,
            checkedOn: day(on),
            weightTyped: weight,
            readingTyped: reading,
            unit: 'lb',
            weightUg: lb(weight),
            readingUg: lb(reading),
            isAdjusted,
            note: '',
          });
        }
        const paths = [...PAGES];
        for (const [index, each] of sales.entries()) {
          weighIn(ledger, each.bin, each.home, each.on);
          const yardId = yards[each.yard]?.id ?? 0;
          const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, each.bin)], note: '' });
          if (!each.byTheBook) {
            const scaleId = each.scale === null ? null : (scaleIds[each.scale] ?? null);
            weighOut(ledger, manifestId, { gross: each.home, scaleId });
          }
          loadManifest(ledger, manifestId, day(each.on), true);
          const net = each.atYard ?? each.home;
          const paidAs = each.bin === 'CU2' ? 'No. 2 copper' : 'Shreddable steel';
          const line = { loads: [0], paidAs, gross: net, deduction: '0', net, price: each.price, amount: '1.00' };
          const sold: Sale = { yardId, number: String(index), on: each.on, loads: [], lines: [line] };
          paths.push(`/tickets/${recordTicket(ledger, ticketOf(ledger, sold, manifestId))}`);
          paths.push(`/manifests/${manifestId}`, `/manifests/${manifestId}/sheet`);
        }
        const app = await newApp(ledger.db);
        for (const path of paths) {
          const { statusCode, body } = await get(app, path);
          expect([path, statusCode]).toEqual([path, 200]);
          expect([path, NO_FIGURE.exec(body)?.[0]]).toEqual([path, undefined]);
        }
        for (const name of EXPORTS) {
          const file = findExport(name);
          if (file === undefined) throw new Error(`no export ${name}`);
          expect(writeExport(ledger, file, {})).not.toMatch(NO_FIGURE);
        }
        await app.close();
        ledger.db.close();
      },
    ),
    { numRuns: 40 },
  );
}, 120_000);
