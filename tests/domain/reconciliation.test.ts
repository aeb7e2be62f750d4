import { readFileSync } from 'node:fs';
import { parse } from 'csv-parse/sync';
import { describe, expect, test } from 'vitest';
import { type AmountMinor, amountMinor, NO_MONEY, roundToMinor, writeMoneyForFile } from '../../server/money/money.ts';
import { type PriceUnit, readPriceUnit, type UnitPrice, valueOfMass } from '../../server/prices/compute.ts';
import {
  type ReconciledLine,
  type ReconciledLoad,
  type ReconciliationInput,
  reconcileTicket,
} from '../../server/reconciliation/compute.ts';
import { shareCharges, shareGroup } from '../../server/reconciliation/shares.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type MassUg, type MassUnit, NO_MASS, toMassUg, toWeight } from '../../server/units/mass.ts';
import { writeForFile } from '../../server/units/write-weight.ts';

type Row = Record<string, string>;
const folder = new URL('../published/worked/', import.meta.url);
const readRows = (name: string): Row[] => parse(readFileSync(new URL(name, folder)), { columns: true, bom: true });
const field = (row: Row, name: string): string => {
  const text = row[name];
  if (text === undefined) throw new Error(`no column ${name}`);
  return text;
};
const cents = (text: string): AmountMinor => roundToMinor(new Decimal(text), 'USD');
const unitOf = (word: string): PriceUnit => readPriceUnit(word) ?? 'lb';
const massOf = (amount: string, unit: MassUnit = 'lb'): MassUg => toMassUg({ amount: new Decimal(amount), unit });

const grades = readRows('grades.csv').map((row) => field(row, 'name'));
const gradeIdOf = (name: string): number => grades.indexOf(name) + 1;

function workedLoads(): ReconciledLoad[] {
  const gradeOfBin = new Map(readRows('bins.csv').map((row) => [field(row, 'code'), gradeIdOf(field(row, 'grade'))]));
  return readRows('loads.csv').map((row, index) => {
    const massUg = massOf(field(row, 'net'));
    const quote: UnitPrice = { price: new Decimal(field(row, 'quoted_price')), per: unitOf(field(row, 'quoted_per')) };
    return {
      id: index + 1,
      label: field(row, 'load'),
      gradeId: gradeOfBin.get(field(row, 'bin')) ?? 0,
      massUg,
      price: field(row, 'quoted_price'),
      per: quote.per,
      expectedMinor: roundToMinor(valueOfMass(massUg, quote) ?? new Decimal(0), 'USD'),
    };
  });
}

function workedLines(loads: readonly ReconciledLoad[]): ReconciledLine[] {
  const quotes = new Map(
    readRows('quotes.csv').map((row): [string, UnitPrice] => [
      field(row, 'grade'),
      { price: new Decimal(field(row, 'price')), per: unitOf(field(row, 'per')) },
    ]),
  );
  return readRows('ticket-lines.csv').map((row, index) => ({
    lineNo: index + 1,
    description: '',
    gradeId: gradeIdOf(field(row, 'paid_as')),
    loadIds: field(row, 'loads')
      .split(';')
      .map((label) => loads.find((load) => load.label === label)?.id ?? 0),
    gross: field(row, 'gross'),
    tare: field(row, 'tare'),
    deduction: field(row, 'deduction'),
    net: field(row, 'net'),
    unit: unitOf(field(row, 'unit')),
    price: field(row, 'price'),
    per: unitOf(field(row, 'per')),
    amountMinor: cents(field(row, 'amount')),
    quoteForPaidGrade: quotes.get(field(row, 'paid_as')) ?? null,
  }));
}

function worked(): ReconciliationInput {
  const loads = workedLoads();
  const [totals = {}] = readRows('ticket-totals.csv');
  return {
    currency: 'USD',
    unit: 'lb',
    loads,
    lines: workedLines(loads),
    chargesMinor: cents(field(totals, 'charges')),
    taxMinor: cents(field(totals, 'tax')),
    cashRoundingMinor: cents(field(totals, 'cash_rounding')),
    totalMinor: cents(field(totals, 'total')),
  };
}

const pounds = (mass: MassUg): string => writeForFile(toWeight(mass, 'lb').amount.toDecimalPlaces(4), 4);
const money = (amount: AmountMinor): string => writeMoneyForFile(amount, 'USD');

// Figures invented for this project, worked out by hand and by an independent reckoning; see tests/published/worked.
describe('the worked example', () => {
  const input = worked();
  const ticket = reconcileTicket(input);

  test('every group is as worked out by hand', () => {
    const rows = ticket.groups.map((group) => ({
      loads: input.loads
        .filter(({ id }) => group.loadIds.includes(id))
        .map(({ label }) => label)
        .join(';'),
      grades: group.gradeIds.map((id) => grades[id - 1]).join(';'),
      unit: group.unit,
      home: pounds(group.homeUg),
      yard_weight: pounds(group.yardUg),
      paid_weight: pounds(group.paidUg),
      expected: money(group.expectedMinor),
      scale: money(group.scaleMinor),
      deduction: money(group.deductionMinor),
      grade: money(group.gradeMinor),
      price: money(group.priceMinor),
      rounding: money(group.roundingMinor),
      paid: money(group.paidMinor),
    }));
    const expected = readRows('expected-reconciliation.csv').map(({ yard, ticket: number, sold_on, ...row }) => row);
    expect(rows).toEqual(expected);
    expect(ticket.groups.every((group) => group.arithmeticMinor === 0 && group.comparedByWeight)).toBe(true);
  });

  test('the ticket row is the sum of its groups', () => {
    expect(ticket.sums).toEqual({
      expectedMinor: 44236,
      scaleMinor: -206,
      deductionMinor: -215,
      gradeMinor: -315,
      priceMinor: -445,
      roundingMinor: 1,
      arithmeticMinor: 0,
      paidMinor: 43056,
    });
  });

  test('the steps lead from what was expected to the cash in hand', () => {
    expect(ticket.steps.map((step) => [step.name, step.amountMinor])).toEqual([
      ['expected', 44236],
      ['scale', -206],
      ['deduction', -215],
      ['grade', -315],
      ['price', -445],
      ['rounding', 1],
      ['arithmetic', 0],
      ['notOnManifest', 0],
      ['charges', -200],
      ['tax', 0],
      ['cashRounding', -1],
      ['paid', 42855],
    ]);
    expect(ticket.ticketArithmeticMinor).toBe(0);
  });

  test('the order in which loads and lines are given changes nothing', () => {
    const turned = reconcileTicket({ ...input, loads: input.loads.toReversed(), lines: input.lines.toReversed() });
    expect(turned).toEqual(ticket);
  });
});

const load = (fields: Partial<ReconciledLoad> = {}): ReconciledLoad => {
  const base = { id: 1, label: 'A', gradeId: 1, massUg: massOf('10'), price: '2.00', per: 'lb' as PriceUnit | null };
  const merged = { ...base, ...fields };
  const quote =
    merged.price !== null && merged.per !== null ? { price: new Decimal(merged.price), per: merged.per } : null;
  const value = quote && valueOfMass(merged.massUg, quote);
  return { expectedMinor: value ? roundToMinor(value, 'USD') : NO_MONEY, ...merged };
};
const line = (fields: Partial<ReconciledLine> = {}): ReconciledLine => ({
  lineNo: 1,
  description: '',
  gradeId: 1,
  loadIds: [1],
  gross: '10',
  tare: '0',
  deduction: '0',
  net: '10',
  unit: 'lb',
  price: '2.00',
  per: 'lb',
  amountMinor: amountMinor(2000),
  quoteForPaidGrade: null,
  ...fields,
});
const reconcile = (loads: ReconciledLoad[], lines: ReconciledLine[], fields: Partial<ReconciliationInput> = {}) =>
  reconcileTicket({
    currency: 'USD',
    unit: 'lb',
    loads,
    lines,
    chargesMinor: NO_MONEY,
    taxMinor: NO_MONEY,
    cashRoundingMinor: NO_MONEY,
    totalMinor: amountMinor(lines.reduce((sum, { amountMinor: amount }) => sum + amount, 0)),
    ...fields,
  });
const groupOf = (loads: ReconciledLoad[], lines: ReconciledLine[]) => {
  const [group] = reconcile(loads, lines).groups;
  if (group === undefined) throw new Error('no group');
  return group;
};

describe('odd cases', () => {
  test('a load that is not on the ticket is a group of its own, all of it in the scale', () => {
    const { groups } = reconcile([load(), load({ id: 2, label: 'B', gradeId: 2 })], [line()], { unit: 'kg' });
    expect(groups[1]).toMatchObject({
      loadIds: [2],
      lineNos: [],
      unit: 'kg',
      isOnTicket: false,
      yardUg: 0,
      paidUg: 0,
      expectedMinor: 2000,
      scaleMinor: -2000,
      roundingMinor: 0,
      paidMinor: 0,
    });
  });

  test('a line without loads is no group but money not on the manifest', () => {
    const extra = line({ lineNo: 2, loadIds: [], amountMinor: amountMinor(500) });
    const ticket = reconcile([load()], [line(), extra]);
    expect(ticket.groups).toHaveLength(1);
    expect(ticket.notOnManifest).toEqual({ lineNos: [2], amountMinor: 500 });
    expect(ticket.steps.find((step) => step.name === 'notOnManifest')?.amountMinor).toBe(500);
    expect(ticket.ticketArithmeticMinor).toBe(0);
  });

  test('a load without a quote is expected to bring nothing, and what it brings is in the price', () => {
    const unquoted = load({ price: null, per: null });
    expect(groupOf([unquoted], [line()])).toMatchObject({
      expectedMinor: 0,
      scaleMinor: 0,
      gradeMinor: 0,
      priceMinor: 2000,
      roundingMinor: 0,
    });
    const asOtherGrade = line({ gradeId: 2, quoteForPaidGrade: { price: new Decimal('1.50'), per: 'lb' } });
    expect(groupOf([unquoted], [asOtherGrade])).toMatchObject({ gradeMinor: 0, priceMinor: 2000 });
  });

  test('paid as a grade without a quote, the whole difference of price counts as grade', () => {
    const asOtherGrade = line({ gradeId: 2, price: '1.20', amountMinor: amountMinor(1200) });
    expect(groupOf([load()], [asOtherGrade])).toMatchObject({ gradeMinor: -800, priceMinor: 0 });
  });

  test('paid as a grade with a quote, the difference is parted into grade and price', () => {
    const quoteForPaidGrade = { price: new Decimal('3000'), per: 'net ton' as const };
    const asOtherGrade = line({ gradeId: 2, price: '1.20', amountMinor: amountMinor(1200), quoteForPaidGrade });
    expect(groupOf([load()], [asOtherGrade])).toMatchObject({ gradeMinor: -500, priceMinor: -300 });
  });

  test('a quote of the own grade does not move what the manifest printed', () => {
    const newer = line({
      price: '1.90',
      amountMinor: amountMinor(1900),
      quoteForPaidGrade: { price: new Decimal(1), per: 'lb' },
    });
    expect(groupOf([load()], [newer])).toMatchObject({ gradeMinor: 0, priceMinor: -100 });
  });

  test('a line in pieces cannot be compared by weight, so all is in the price', () => {
    const pieces = line({
      unit: 'each',
      per: 'each',
      gross: '4',
      net: '4',
      price: '6',
      amountMinor: amountMinor(2401),
    });
    expect(groupOf([load()], [pieces])).toMatchObject({
      unit: 'each',
      comparedByWeight: false,
      homeUg: massOf('10'),
      yardUg: massOf('10'),
      paidUg: massOf('10'),
      scaleMinor: 0,
      deductionMinor: 0,
      gradeMinor: 0,
      priceMinor: 401,
      roundingMinor: 0,
      arithmeticMinor: 0,
    });
  });

  test('a load quoted by the piece cannot be compared by weight either', () => {
    const byPiece = load({ per: 'each', price: '6', expectedMinor: amountMinor(2400) });
    expect(groupOf([byPiece], [line()])).toMatchObject({ comparedByWeight: false, priceMinor: -400 });
    expect(groupOf([byPiece], [])).toMatchObject({ isOnTicket: false, scaleMinor: -2400, priceMinor: 0 });
  });

  test('one bin paid as two grades and two bins paid as one line are one group each', () => {
    const loads = [load(), load({ id: 2, label: 'B' }), load({ id: 3, label: 'C', gradeId: 2 })];
    const lines = [line({ loadIds: [1] }), line({ lineNo: 2, loadIds: [1] }), line({ lineNo: 3, loadIds: [2, 3] })];
    expect(
      reconcile(loads, lines).groups.map(({ loadIds, lineNos, gradeIds }) => ({ loadIds, lineNos, gradeIds })),
    ).toEqual([
      { loadIds: [1], lineNos: [1, 2], gradeIds: [1] },
      { loadIds: [2, 3], lineNos: [3], gradeIds: [1, 2] },
    ]);
  });

  test('groups follow the labels of their loads, AA after Z', () => {
    const loads = [load({ id: 3, label: 'AA' }), load({ id: 2, label: 'Z' }), load({ id: 1, label: 'B' })];
    expect(reconcile(loads, []).groups.map((group) => group.loadIds)).toEqual([[1], [2], [3]]);
  });

  test('a slip of multiplication on the ticket is arithmetic and not rounding', () => {
    const slip = line({ amountMinor: amountMinor(1946) });
    expect(groupOf([load()], [slip])).toMatchObject({ roundingMinor: 0, arithmeticMinor: -54, paidMinor: 1946 });
  });

  test('a slip of the total is arithmetic of the ticket', () => {
    const ticket = reconcile([load()], [line()], {
      chargesMinor: amountMinor(200),
      taxMinor: amountMinor(7),
      cashRoundingMinor: amountMinor(-2),
      totalMinor: amountMinor(1800),
    });
    expect(ticket.ticketArithmeticMinor).toBe(-5);
    expect(ticket.steps.slice(6).map((step) => step.amountMinor)).toEqual([-5, 0, -200, 7, -2, 1800]);
  });

  test('a slip of the net stays in the deduction, where the weight went', () => {
    const short = line({ net: '9', amountMinor: amountMinor(1800) });
    expect(groupOf([load()], [short])).toMatchObject({ deductionMinor: -200, arithmeticMinor: 0 });
  });

  test('lines in other units than the first are converted', () => {
    const lines = [
      line({ gross: '5', net: '5', amountMinor: amountMinor(1000) }),
      line({ lineNo: 2, gross: '2.26796185', net: '2.26796185', unit: 'kg', amountMinor: amountMinor(1000) }),
    ];
    expect(groupOf([load()], lines)).toMatchObject({
      unit: 'lb',
      paidUg: massOf('10'),
      scaleMinor: 0,
      deductionMinor: 0,
      priceMinor: 0,
      roundingMinor: 0,
    });
  });

  test('half a cent rounds away from zero although the mean price does not end', () => {
    // p = (20 × 1 + 10 × 2) / 30 = 4/3 per lb. The scales are 0.00375 lb apart: exactly half a cent.
    const loads = [load({ massUg: massOf('20'), price: '1' }), load({ id: 2, label: 'B', price: '2' })];
    const heavier = line({ loadIds: [1, 2], gross: '30.00375', net: '30.00375', price: '0', amountMinor: NO_MONEY });
    expect(groupOf(loads, [heavier]).scaleMinor).toBe(1);
    const lighter = { ...heavier, gross: '29.99625', net: '29.99625' };
    expect(groupOf(loads, [lighter]).scaleMinor).toBe(-1);
  });

  test('half a cent stays half a cent although masses are stored to the microgram', () => {
    const loads = [load({ massUg: massOf('1.02'), price: '0.25' })];
    const one = line({ gross: '1.00', net: '1.00', price: '0.25', amountMinor: amountMinor(25) });
    // (1.00 − 1.02) × 0.25 is −0.005 exactly.
    expect(groupOf(loads, [one])).toMatchObject({ expectedMinor: 26, scaleMinor: -1, roundingMinor: 0 });
  });
});

describe('shares', () => {
  const loads = [
    load({ massUg: massOf('30'), price: '3.00' }),
    load({ id: 2, label: 'B', gradeId: 2, massUg: massOf('10'), price: '1.00' }),
  ];
  const paid = line({
    loadIds: [1, 2],
    gross: '40',
    net: '36',
    deduction: '4',
    price: '2.50',
    amountMinor: amountMinor(9001),
  });

  test('weights follow the home weight and money the expected value', () => {
    const group = groupOf(loads, [paid]);
    expect(shareGroup(group, loads, 'USD')).toEqual([
      {
        gradeId: 1,
        homeUg: massOf('30'),
        yardUg: massOf('30'),
        paidUg: massOf('27'),
        quotedUg: massOf('30'),
        quotedMicro: 9_000_000_000,
        paidMinor: 8101,
      },
      {
        gradeId: 2,
        homeUg: massOf('10'),
        yardUg: massOf('10'),
        paidUg: massOf('9'),
        quotedUg: massOf('10'),
        quotedMicro: 1_000_000_000,
        paidMinor: 900,
      },
    ]);
  });

  test('without anything expected the money follows the home weight', () => {
    const unquoted = loads.map((one) => ({ ...one, price: null, per: null, expectedMinor: NO_MONEY }));
    const shares = shareGroup(groupOf(unquoted, [paid]), unquoted, 'USD');
    expect(shares.map((share) => [share.paidMinor, share.quotedMicro, share.quotedUg])).toEqual([
      [6751, 0, 0],
      [2250, 0, 0],
    ]);
  });

  test('a quoted value keeps what the cent rounds off', () => {
    const odd = [load({ massUg: massOf('22.65'), price: '2.45' })];
    expect(shareGroup(groupOf(odd, []), odd, 'USD')[0]?.quotedMicro).toBe(5_549_250_000);
  });

  test('a quote by the piece counts with what the manifest expected', () => {
    const byPiece = [load({ per: 'each', price: '6', expectedMinor: amountMinor(2400) })];
    expect(shareGroup(groupOf(byPiece, []), byPiece, 'USD')[0]?.quotedMicro).toBe(2_400_000_000);
    expect(shareGroup(groupOf(byPiece, []), byPiece, 'USD')[0]?.yardUg).toBe(NO_MASS);
  });

  test('charges follow what each group was paid, to the cent', () => {
    const amounts = [21540, 4935, 14700, 1881].map(amountMinor);
    expect(shareCharges(amountMinor(200), amounts)).toEqual([100, 23, 68, 9]);
    expect(shareCharges(amountMinor(100), [amountMinor(-50), amountMinor(50)])).toEqual([0, 100]);
    expect(shareCharges(amountMinor(3), [NO_MONEY, NO_MONEY])).toEqual([2, 1]);
    expect(shareCharges(amountMinor(3), [])).toEqual([]);
  });
});
