import { describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { build } from '../../server/db/database.ts';
import { balanceOf, loadAccount, soleAccount } from '../../server/ledger/queries.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { figuresOfGroups } from '../../server/reconciliation/figures.ts';
import { type ReconciledTicket, reconciledTicket, storedGroups } from '../../server/reconciliation/queries.ts';
import { Refusal, type RefusalCode } from '../../server/refusal.ts';
import { recordTicket, replaceTicket, returnLoad, type TicketInput } from '../../server/tickets/acts.ts';
import { changeLines, type LineRules, loadsNamed, typedLines, withLines } from '../../server/tickets/line-changes.ts';
import { standingTicketsOf } from '../../server/tickets/queries.ts';
import { day } from '../../server/units/day.ts';
import { binId, gradeId, lb, massIn, newLedger, newYard, setUpWorkedExample, weighIn } from '../helper.ts';
import { type Sale, sell, ticketOf } from '../sales.ts';
import { loadWorkedManifest } from '../worked.ts';

const copper = { paidAs: 'No. 2 copper', deduction: '0' };

/** Two loads of copper and brass, one ticket that pays for both; figures invented. */
const twoLoads = (yardId: number): Sale => ({
  yardId,
  number: 'T1',
  on: '2025-03-08',
  loads: [
    { code: 'CU2', net: '50', price: '3.60' },
    { code: 'YB1', net: '20', price: '2.45' },
  ],
  lines: [
    { ...copper, loads: [0], gross: '49', deduction: '1', net: '48', price: '3.60', amount: '172.80' },
    { loads: [1], paidAs: 'Yellow brass', gross: '20.5', deduction: '0', net: '20.5', price: '2.40', amount: '49.20' },
  ],
});

function soldLedger() {
  const ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '80');
  weighIn(ledger, 'YB1', '30');
  const sale = twoLoads(yardId);
  return { ledger, yardId, sale, ...sell(ledger, sale) };
}

const codeOf = (act: () => unknown): RefusalCode | null => {
  try {
    act();
    return null;
  } catch (error) {
    if (error instanceof Refusal) return error.code;
    throw error;
  }
};

const moved = ({ db }: Ledger, kind: 'sold' | 'deducted' | 'scale_difference', grade: number): number =>
  balanceOf(db, soleAccount(db, kind), grade);
const months = ({ db }: Ledger) =>
  db.many(build.selectFrom('sale_month').selectAll().orderBy('month').orderBy('grade_id'));
const transfers = ({ db }: Ledger) => db.many(build.selectFrom('transfer').select(['id', 'reverses_id']));
const everyBalance = ({ db }: Ledger) =>
  db
    .many(
      build
        .selectFrom('balance')
        .select(['account_id', 'grade_id', 'mass_ug'])
        .orderBy('account_id')
        .orderBy('grade_id'),
    )
    .filter(({ mass_ug: mass }) => mass !== 0);

describe('what a ticket moves', () => {
  test('sold, deducted and scale difference come to what was loaded, and every load ends at zero', () => {
    const { ledger, manifestId } = soldLedger();
    const grade = gradeId(ledger, 'No. 2 copper');
    expect(moved(ledger, 'sold', grade)).toBe(lb('48'));
    expect(moved(ledger, 'deducted', grade)).toBe(lb('1'));
    expect(moved(ledger, 'scale_difference', grade)).toBe(lb('1'));
    const brass = gradeId(ledger, 'Yellow brass');
    expect(moved(ledger, 'sold', brass)).toBe(lb('20.5'));
    expect(moved(ledger, 'scale_difference', brass)).toBe(-lb('0.5'));
    for (const load of loadsOf(ledger.db, manifestId)) {
      expect(balanceOf(ledger.db, loadAccount(ledger.db, load.id), load.grade_id)).toBe(0);
    }
  });

  test('a group of loads weighed as one is shared by home weight, to the microgram', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    const manifestId = loadWorkedManifest(ledger, yardId);
    const loads = loadsOf(ledger.db, manifestId);
    const sale: Sale = {
      yardId,
      number: '1',
      on: '2025-03-08',
      loads: [],
      lines: [
        {
          paidAs: 'Yellow brass',
          deduction: '0',
          loads: [2, 3],
          gross: '59.7',
          net: '59.1',
          price: '2.45',
          amount: '144.80',
        },
      ],
    };
    recordTicket(ledger, ticketOf(ledger, sale, manifestId));
    const brass = gradeId(ledger, 'Yellow brass');
    expect(moved(ledger, 'sold', brass)).toBe(lb('59.1'));
    const own = loads.filter((load) => load.grade_id === brass);
    expect(own.map((load) => balanceOf(ledger.db, loadAccount(ledger.db, load.id), brass))).toEqual([0, 0]);
  });

  test('a net above gross less tare is moved as printed, and still nothing is left on the load', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '80');
    const line = { ...copper, loads: [0], gross: '40', net: '45', price: '3.60', amount: '162.00' };
    sell(ledger, {
      yardId,
      number: '1',
      on: '2025-03-08',
      loads: [{ code: 'CU2', net: '50', price: '3.60' }],
      lines: [line],
    });
    const grade = gradeId(ledger, 'No. 2 copper');
    expect(moved(ledger, 'sold', grade)).toBe(lb('45'));
    expect(moved(ledger, 'deducted', grade)).toBe(-lb('5'));
    expect(moved(ledger, 'scale_difference', grade)).toBe(lb('10'));
  });

  test('a line that names a load twice pays for it once', () => {
    const { ledger, sale, manifestId, ticketId } = soldLedger();
    const input = ticketOf(ledger, sale, manifestId);
    const [first, ...rest] = input.lines;
    const doubled = {
      ...input,
      lines: [{ ...first, loadIds: [...(first?.loadIds ?? []), ...(first?.loadIds ?? [])] }, ...rest],
    };
    const id = replaceTicket(ledger, ticketId, doubled as TicketInput, 'twice');
    expect(reconciledTicket(ledger.db, ledger.settings, id)?.lines[0]?.loadIds).toHaveLength(1);
  });
});

describe('the charges of a ticket', () => {
  test('are all borne by what was sold, also when the yard paid nothing for it', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    const both = twoLoads(yardId);
    const free = { ...copper, loads: [0], gross: '50', net: '50', price: '0', amount: '0' };
    const { ticketId } = sell(ledger, { ...both, lines: [free], charges: '10.00' });
    expect(months(ledger).map((month) => [month.paid_minor, month.charges_minor])).toEqual([[0, 1000]]);
    const { reconciliation } = reconciledTicket(ledger.db, ledger.settings, ticketId) as ReconciledTicket;
    const borne = figuresOfGroups(reconciliation, 'USD', 'lb').map(({ chargeMinor }) => chargeMinor);
    expect(borne).toEqual([1000, 0]);
  });
});

describe('a second ticket for one manifest', () => {
  test('pays for what the first left out, and the group of the first disappears', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '80');
    weighIn(ledger, 'YB1', '30');
    const both = twoLoads(yardId);
    const [copperLine, brassLine] = both.lines;
    if (copperLine === undefined || brassLine === undefined) throw new Error('two lines');
    const { manifestId, ticketId } = sell(ledger, { ...both, lines: [copperLine] });
    expect(storedGroups(ledger.db, ticketId).map((group) => [group.is_on_ticket, group.expected_minor])).toEqual([
      [1, 18000],
      [0, 4900],
    ]);
    const second = recordTicket(ledger, ticketOf(ledger, { ...both, number: 'T2', lines: [brassLine] }, manifestId));
    expect(storedGroups(ledger.db, ticketId).map((group) => group.is_on_ticket)).toEqual([1]);
    expect(storedGroups(ledger.db, second).map((group) => [group.is_on_ticket, group.paid_minor])).toEqual([[1, 4920]]);
  });
});

describe('a ticket that takes the place of another', () => {
  test('keeps its place among the tickets of its manifest: a load on none of them stays with the first', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '80');
    weighIn(ledger, 'YB1', '30');
    const both = twoLoads(yardId);
    const extra = { code: 'YB2', net: '5', price: '2.00' };
    const [copperLine, brassLine] = both.lines;
    if (copperLine === undefined || brassLine === undefined) throw new Error('two lines');
    const first = { ...both, loads: [...both.loads, extra], lines: [copperLine] };
    const { manifestId, ticketId } = sell(ledger, first);
    const other = recordTicket(ledger, ticketOf(ledger, { ...both, number: 'T2', lines: [brassLine] }, manifestId));
    const newer = replaceTicket(ledger, ticketId, ticketOf(ledger, first, manifestId), 'typed wrong');
    const onTicket = (id: number) => storedGroups(ledger.db, id).map((group) => group.is_on_ticket);
    expect([onTicket(newer), onTicket(other)]).toEqual([[1, 0], [1]]);
  });

  test('leaves balances, groups and monthly sums as if only the new one had ever been entered', () => {
    const { ledger, sale, manifestId, ticketId } = soldLedger();
    const changed: Sale = {
      ...sale,
      number: 'T1b',
      on: '2025-04-02',
      lines: [{ ...copper, loads: [0, 1], gross: '70', deduction: '2', net: '68', price: '3.00', amount: '204.00' }],
      charges: '1.50',
    };
    replaceTicket(ledger, ticketId, ticketOf(ledger, changed, manifestId), 'typed from the wrong paper');

    const fresh = newLedger();
    setUpWorkedExample(fresh);
    weighIn(fresh, 'CU2', '80');
    weighIn(fresh, 'YB1', '30');
    const first = sell(fresh, { ...sale, lines: [] });
    // An empty ticket stands in for the one that was replaced, so that the ids are the same.
    replaceTicket(fresh, first.ticketId, ticketOf(fresh, changed, first.manifestId), '');
    expect(everyBalance(ledger)).toEqual(everyBalance(fresh));
    expect(months(ledger)).toEqual(months(fresh));
    expect(months(ledger).map(({ month }) => month)).toEqual(['2025-04', '2025-04']);
    expect(standingTicketsOf(ledger.db, manifestId).map(({ number }) => number)).toEqual(['T1b']);
    expect(storedGroups(ledger.db, ticketId)).toEqual([]);
  });

  test('reverses every movement of the old one exactly, and keeps both', () => {
    const { ledger, sale, manifestId, ticketId } = soldLedger();
    const before = transfers(ledger);
    const balances = everyBalance(ledger);
    replaceTicket(ledger, ticketId, ticketOf(ledger, sale, manifestId), 'the same again');
    const after = transfers(ledger);
    expect(after.slice(0, before.length)).toEqual(before);
    expect(after.filter((transfer) => transfer.reverses_id !== null)).toHaveLength(5);
    expect(everyBalance(ledger)).toEqual(balances);
  });

  test('frees a load that the new one leaves out, so that it can be brought back', () => {
    const { ledger, sale, manifestId, ticketId } = soldLedger();
    const [copperLine] = sale.lines;
    const only = { ...sale, lines: copperLine === undefined ? [] : [copperLine] };
    replaceTicket(ledger, ticketId, ticketOf(ledger, only, manifestId), 'brass was not sold');
    const brass = loadsOf(ledger.db, manifestId).find((load) => load.bin_code === 'YB1');
    returnLoad(ledger, brass?.id ?? 0, day('2025-03-09'), 'not sold');
    expect(massIn(ledger, 'YB1')).toBe(lb('30'));
  });
});

describe('what is refused', () => {
  test('a load that another ticket pays for', () => {
    const { ledger, sale, manifestId } = soldLedger();
    const again = ticketOf(ledger, { ...sale, number: 'T2' }, manifestId);
    expect(codeOf(() => recordTicket(ledger, again))).toBe('load_already_paid');
    expect(standingTicketsOf(ledger.db, manifestId)).toHaveLength(1);
  });

  test('a load of another manifest', () => {
    const { ledger, sale, manifestId } = soldLedger();
    const other = sell(ledger, { ...sale, number: 'T2', loads: [{ code: 'CU2', net: '5', price: '3.60' }], lines: [] });
    const loadId = loadsOf(ledger.db, manifestId)[0]?.id ?? 0;
    const input = ticketOf(ledger, { ...sale, number: 'T3' }, other.manifestId);
    const lines = input.lines.slice(0, 1).map((line) => ({ ...line, loadIds: [loadId] }));
    expect(codeOf(() => recordTicket(ledger, { ...input, lines }))).toBe('load_of_other_manifest');
  });

  test('a ticket of a yard for which the manifest was not loaded', () => {
    const { ledger, sale, manifestId } = soldLedger();
    const south = newYard(ledger, 'Demo Yard South');
    const input = ticketOf(ledger, { ...sale, yardId: south, lines: [] }, manifestId);
    expect(codeOf(() => recordTicket(ledger, input))).toBe('manifest_of_other_yard');
  });

  test('a load that came back to its bin', () => {
    const ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    const manifestId = loadWorkedManifest(ledger, yardId);
    const load = loadsOf(ledger.db, manifestId)[0];
    returnLoad(ledger, load?.id ?? 0, day('2025-03-09'), '');
    const line = { ...copper, loads: [0], gross: '61', net: '61', price: '3.60', amount: '219.60' };
    const input = ticketOf(ledger, { yardId, number: '1', on: '2025-03-08', loads: [], lines: [line] }, manifestId);
    expect(codeOf(() => recordTicket(ledger, input))).toBe('load_returned');
    expect(massIn(ledger, 'CU2')).toBe(lb('61.40'));
  });

  test('a second replacement of the same ticket, and a replacement on another manifest', () => {
    const { ledger, sale, manifestId, ticketId } = soldLedger();
    const other = sell(ledger, { ...sale, number: 'T2', loads: [{ code: 'CU2', net: '5', price: '3.60' }], lines: [] });
    const elsewhere = ticketOf(ledger, { ...sale, lines: [] }, other.manifestId);
    expect(codeOf(() => replaceTicket(ledger, ticketId, elsewhere, 'x'))).toBe('load_of_other_manifest');
    replaceTicket(ledger, ticketId, ticketOf(ledger, sale, manifestId), 'once');
    expect(codeOf(() => replaceTicket(ledger, ticketId, ticketOf(ledger, sale, manifestId), 'twice'))).toBe(
      'ticket_replaced',
    );
  });

  test('a ticket for a draft', () => {
    const { ledger, sale, manifestId } = soldLedger();
    ledger.db.run(
      build.insertInto('manifest').values({
        yard_id: sale.yardId,
        number: 'D',
        status: 'draft',
        drafted_on: day('2025-03-01'),
        loaded_on: null,
        note: '',
      }),
    );
    const input = { ...ticketOf(ledger, { ...sale, lines: [] }, manifestId), manifestId: manifestId + 1 };
    expect(codeOf(() => recordTicket(ledger, input))).toBe('manifest_not_loaded');
    expect(binId(ledger, 'CU2')).toBeGreaterThan(0);
  });
});

describe('changing the lines of the form', () => {
  const line = {
    description: '',
    paidAs: '1',
    loads: 'A',
    gross: '',
    tare: '',
    deduction: '',
    net: '',
    unit: 'lb',
    price: '3.60',
    per: 'lb',
    amount: '',
  };
  const form = withLines({ number: '7', total: '12', requestKey: 'key-key-1' }, [
    { ...line, gross: '54.0', net: '50.5', description: 'COP' },
    { ...line, paidAs: '4', loads: 'C', price: '2.45' },
    { ...line, paidAs: '4', loads: 'D', price: '2.45', gross: '22', amount: '53.90' },
  ]);
  const rules: LineRules = { lowerGrade: () => null, unit: 'lb' };

  test('a split line gets a second one for the same loads, without weights, at the grade it falls back to', () => {
    const { typed, focus } = changeLines(form, 'split:1', {
      ...rules,
      lowerGrade: () => ({ paidAs: '2', price: '3.30', per: 'lb' }),
    });
    const lines = typedLines(typed);
    expect(lines).toHaveLength(4);
    expect(lines[0]).toEqual({ ...line, gross: '54.0', net: '50.5', description: 'COP' });
    expect(lines[1]).toEqual({ ...line, paidAs: '2', price: '3.30' });
    expect(lines[3]?.amount).toBe('53.90');
    expect([typed.number, typed.total, typed.requestKey, focus]).toEqual(['7', '12', 'key-key-1', 'gross-2']);
  });

  test('a joined line gives its loads to the one above, and its figures where that has none', () => {
    const lines = typedLines(changeLines(form, 'join:3', rules).typed);
    expect(lines).toHaveLength(2);
    expect(lines[1]).toEqual({ ...line, paidAs: '4', loads: 'C,D', price: '2.45', gross: '22', amount: '53.90' });
  });

  test('figures that a join leaves out are named', () => {
    const both = withLines({}, [
      { ...line, gross: '1' },
      { ...line, loads: 'B', gross: '2', net: '2' },
    ]);
    const { typed, said } = changeLines(both, 'join:2', rules);
    expect(typedLines(typed)).toEqual([{ ...line, loads: 'A,B', gross: '1' }]);
    expect(said).toContain('gross 2, net 2');
  });

  test('add and remove keep every other line, and one line always stays', () => {
    expect(typedLines(changeLines(form, 'add', rules).typed)).toHaveLength(4);
    const removed = typedLines(changeLines(form, 'remove:1', rules).typed);
    expect(removed.map(({ loads }) => loads)).toEqual(['C', 'D']);
    const one = withLines({}, [line]);
    expect(typedLines(changeLines(one, 'remove:1', rules).typed)).toHaveLength(1);
  });

  test("an added line begins in the yard's unit, whatever the line above is in", () => {
    const byTon = withLines({}, [{ ...line, unit: 'cwt', per: 'net ton' }]);
    const added = typedLines(changeLines(byTon, 'add', { ...rules, unit: 'kg' }).typed)[1];
    expect(added).toEqual({ ...line, paidAs: '', loads: '', price: '', unit: 'kg', per: 'kg' });
  });

  test.each(['join:1', 'split:9', 'remove:0', 'back', '', 'split', 'join:NaN'])('%s changes nothing', (change) => {
    expect(typedLines(changeLines(form, change, rules).typed)).toEqual(typedLines(form));
  });

  test('a count of lines that is none is worked out from the fields, and never grows without bound', () => {
    expect(typedLines({ ...form, lineCount: 'NaN' })).toHaveLength(3);
    expect(typedLines({ ...form, lineCount: '999' }).length).toBeLessThan(100);
    expect(typedLines({})).toHaveLength(1);
  });

  test('labels are told apart also when one of them holds a comma', () => {
    const loads = [{ label: 'A' }, { label: 'A,1' }, { label: 'B' }];
    expect(loadsNamed(loads, 'A,1,B').found.map(({ label }) => label)).toEqual(['A,1', 'B']);
    expect(loadsNamed(loads, 'b,A').found.map(({ label }) => label)).toEqual(['B', 'A']);
    expect(loadsNamed(loads, 'B,Z').unknown).toBe('Z');
  });
});
