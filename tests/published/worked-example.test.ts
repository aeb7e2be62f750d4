import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { importFile } from '../../server/files/acts.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { findImportKind } from '../../server/files/imports/kinds.ts';
import { newLedger } from '../helper.ts';

const folder = new URL('worked/', import.meta.url);
const KINDS = ['grades', 'bins', 'yards', 'quotes', 'in-weights', 'loads', 'ticket-lines', 'ticket-totals'];

/** A file without its last column. */
const withoutVerdict = (csv: string): string => csv.replace(/,[^,\r\n]*\r\n/g, '\r\n');

// Source of the figures: invented for this project and worked out by hand, apart from the program; the convention is
// the usual one of standard costing (see variances.test.ts).
test('the worked example, brought in as files, reconciles byte for byte as it was worked out by hand', () => {
  const ledger = newLedger();
  for (const name of KINDS) {
    const kind = findImportKind(name);
    const file = readFileSync(new URL(`${name}.csv`, folder));
    if (kind === undefined) throw new Error(`no kind ${name}`);
    const report = importFile(ledger, kind, file, false);
    expect([name, report.problems, report.notes]).toEqual([name, [], []]);
  }
  const file = findExport('reconciliation');
  if (file === undefined) throw new Error('no such export');
  const csv = writeExport(ledger, file, {});
  expect(csv.split('\r\n')[0]?.endsWith(',verdict')).toBe(true);
  expect(withoutVerdict(csv)).toBe(readFileSync(new URL('expected-reconciliation.csv', folder), 'utf8'));
});
