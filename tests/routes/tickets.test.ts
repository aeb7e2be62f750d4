import { readFileSync } from 'node:fs';
import { parse } from 'csv-parse/sync';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { build } from '../../server/db/database.ts';
import { balanceOf, loadAccount } from '../../server/ledger/queries.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor, writeMoneyForFile } from '../../server/money/money.ts';
import { storedGroups } from '../../server/reconciliation/queries.ts';
import { returnLoad } from '../../server/tickets/acts.ts';
import { ticketLines, ticketTotal } from '../../server/tickets/queries.ts';
import { day } from '../../server/units/day.ts';
import { BAD_FIGURES, get, gradeId, newApp, newLedger, newYard, post, setUpWorkedExample } from '../helper.ts';
import { loadWorkedManifest } from '../worked.ts';

let ledger: Ledger;
let app: FastifyInstance;
let yardId: number;
let manifestId: number;

beforeEach(async () => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
  manifestId = loadWorkedManifest(ledger, yardId);
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

type Row = Record<string, string>;
const rows = (name: string): Row[] =>
  parse(readFileSync(new URL(`../published/worked/${name}`, import.meta.url)), { columns: true, bom: true });

/** The worked ticket as it would be typed, from its files. */
function workedForm(changes: Row = {}): Row {
  const fields: Row = {
    manifest: String(manifestId),
    yard: String(yardId),
    number: '70011',
    soldOn: '2025-03-08',
    charges: '2.00',
    tax: '',
    cashRounding: '-0.01',
    total: '428.55',
    paidBy: 'cash',
    note: '',
    requestKey: 'worked-ticket-1',
  };
  const lines = rows('ticket-lines.csv');
  lines.forEach((row, index) => {
    const at = (field: string) => `${field}-${index + 1}`;
    fields[at('paidAs')] = String(gradeId(ledger, row.paid_as ?? ''));
    fields[at('loads')] = (row.loads ?? '').replaceAll(';', ',');
    for (const name of ['gross', 'tare', 'deduction', 'net', 'unit', 'price', 'per', 'amount']) {
      fields[at(name)] = row[name] ?? '';
    }
  });
  return { ...fields, lineCount: String(lines.length), ...changes };
}

/** One line for load A only. */
const lineForA = (changes: Row = {}): Row => ({
  manifest: String(manifestId),
  yard: String(yardId),
  number: '1',
  soldOn: '2025-03-08',
  total: '219.60',
  paidBy: 'cheque',
  requestKey: 'line-for-a-1',
  lineCount: '1',
  'paidAs-1': String(gradeId(ledger, 'No. 2 copper')),
  'loads-1': 'A',
  'gross-1': '61.0',
  'unit-1': 'lb',
  'price-1': '3.60',
  'per-1': 'lb',
  ...changes,
});

const storedTickets = (): number =>
  ledger.db.one(build.selectFrom('ticket').select((eb) => eb.fn.countAll<number>().as('count'))).count;
const idOf = (location: string | string[] | undefined): number =>
  Number.parseInt(String(location).split('/').at(-1) ?? '', 10);
const save = async (fields: Row) => idOf((await post(app, '/tickets', fields)).headers.location);
/** The value of a field as the page shows it. */
const shown = (body: string, name: string): string | undefined =>
  new RegExp(`name="${name}"\\s+value="([^"]*)"`).exec(body)?.[1];

describe('the worked example, entered through the pages', () => {
  test('reads the same from a keypad that has only a comma, on every page on the way', async () => {
    const FIGURE = /^-?\d+\.\d{1,2}%?$/;
    const withCommas = Object.fromEntries(
      Object.entries(workedForm()).map(([name, text]) => [name, FIGURE.test(text) ? text.replace('.', ',') : text]),
    );
    expect(Object.values(withCommas).filter((text) => /\d,\d/.test(text)).length).toBeGreaterThan(10);
    const check = await post(app, '/tickets/check', withCommas);
    expect(check.body).toContain('No slip found');
    const id = await save(withCommas);
    const bare = (lines: ReturnType<typeof ticketLines>) => lines.map(({ id: _, ticket_id: __, ...line }) => line);
    const stored = bare(ticketLines(ledger.db, id));
    const replaced = await post(app, `/tickets/${id}/replacements`, {
      ...workedForm({ number: '70011', requestKey: 'worked-with-points' }),
      reason: 'the same with points',
    });
    expect(replaced.statusCode).toBe(303);
    expect(bare(ticketLines(ledger.db, idOf(replaced.headers.location)))).toEqual(stored);
  });

  test('reconciles to the table that was worked out by hand, and ends every load at zero', async () => {
    const check = await post(app, '/tickets/check', workedForm());
    expect(check.statusCode).toBe(200);
    expect(check.body).toContain('No slip found');
    expect(storedTickets()).toBe(0);
    const saved = await post(app, '/tickets', workedForm());
    expect(saved.statusCode).toBe(303);
    const id = idOf(saved.headers.location);
    const money = (minor: number) => writeMoneyForFile(amountMinor(minor), 'USD');
    // Source: tests/published/worked/expected-reconciliation.csv, worked out by hand apart from the program.
    const expected = rows('expected-reconciliation.csv').map((row) =>
      ['expected', 'scale', 'deduction', 'grade', 'price', 'rounding', 'paid'].map((name) => row[name]),
    );
    const found = storedGroups(ledger.db, id).map((group) => [
      money(group.expected_minor),
      money(group.scale_minor),
      money(group.deduction_minor),
      money(group.grade_minor),
      money(group.price_minor),
      money(group.rounding_minor),
      money(group.paid_minor),
    ]);
    expect(found).toEqual(expected);
    expect(ticketTotal(ledger.db, id)).toMatchObject({
      charges_minor: 200,
      cash_rounding_minor: -1,
      total_minor: 42855,
      paid_by: 'cash',
    });
    for (const load of loadsOf(ledger.db, manifestId)) {
      expect(balanceOf(ledger.db, loadAccount(ledger.db, load.id), load.grade_id)).toBe(0);
    }
  });

  test('its page says in one sentence and one picture where every cent went', async () => {
    const id = await save(workedForm());
    const { body, statusCode } = await get(app, `/tickets/${id}`);
    expect(statusCode).toBe(200);
    expect(body).toContain(
      'Of the $13.81 between expected and paid, $4.45 was price, $3.15 grade, $2.15 deduction, $2.06 the two scales, $2.00 charges and $0.01 cash rounding.',
    );
    expect(body).toContain('read 1.10 lb less than yours on loads A, B, C and D and 8.00 lb more on load E');
    expect(body).toContain('10.5 lb of A as Light copper');
    expect(body).toContain(
      'Expected $442.36; Scales −$2.06; Deduction −$2.15; Grade −$3.15; Price −$4.45; Rounding +$0.01; Charges −$2.00; Cash rounding −$0.01; Paid $428.55',
    );
    expect(body).not.toContain('Not on the ticket');
  });

  test('what the ticket does not print is worked out and marked', async () => {
    const check = await post(app, '/tickets/check', workedForm({ 'net-1': '', 'amount-3': '', 'tare-2': '' }));
    expect(check.statusCode).toBe(200);
    expect(check.body.match(/worked out, not printed/g)).toHaveLength(2);
    const id = await save(workedForm({ 'net-1': '', 'amount-3': '', 'tare-2': '' }));
    expect(ticketLines(ledger.db, id).map(({ net, amount_minor }) => [net, amount_minor])[0]).toEqual(['50.5', 18180]);
  });

  test('a percent is kept as printed', async () => {
    const id = await save(workedForm({ 'deduction-5': '5%', 'tare-5': '' }));
    const line = ticketLines(ledger.db, id).at(-1);
    expect([line?.deduction, line?.net, line?.tare]).toEqual(['5%', '209', '0']);
  });
});

describe('the form', () => {
  test('opens with one line for each load, at its quote and with empty weights', async () => {
    const { body } = await get(app, `/tickets/new?manifest=${manifestId}`);
    expect(shown(body, 'lineCount')).toBe('5');
    expect(shown(body, 'price-1')).toBe('3.60');
    expect(shown(body, 'price-5')).toBe('190');
    expect(shown(body, 'gross-1')).toBe('');
    expect(shown(body, 'soldOn')).toBeUndefined();
    expect(body).toContain('value="2025-03-08"');
    expect(body).toContain('home net: 61.40 lb');
  });

  test('without a manifest, or with one that will not do, asks which one', async () => {
    const asked = await get(app, '/tickets/new');
    expect(asked.body).toContain(`/tickets/new?manifest=${manifestId}`);
    for (const bad of ['999', 'x', '1e309', '-5', '１']) {
      const { statusCode, body } = await get(app, `/tickets/new?manifest=${encodeURIComponent(bad)}`);
      expect([statusCode, body.includes('There is no such manifest')]).toEqual([200, true]);
    }
  });

  test('after a split, a join and an added line everything typed is there again', async () => {
    const typed = workedForm({ note: 'a “note” & <more>', 'gross-2': 'not yet' });
    const split = await post(app, '/tickets/lines', { ...typed, change: 'split:1' });
    expect(shown(split.body, 'lineCount')).toBe('6');
    expect([shown(split.body, 'gross-1'), shown(split.body, 'gross-2'), shown(split.body, 'gross-3')]).toEqual([
      '54.0',
      '',
      'not yet',
    ]);
    expect(split.body).toContain('a “note” &amp; &lt;more&gt;');
    // The grade that copper falls back to, at its own quote.
    expect(shown(split.body, 'price-2')).toBe('3.30');
    const joined = await post(app, '/tickets/lines', { ...typed, change: 'join:4' });
    expect(shown(joined.body, 'lineCount')).toBe('4');
    expect(joined.body).toContain('Left out, because line 3 has its own: gross 63.0');
    const back = await post(app, '/tickets/lines', { ...typed, change: 'back' });
    for (const [name, value] of Object.entries(workedForm()).filter(([name]) =>
      /^(gross|net|amount)-[1345]$/.test(name),
    )) {
      expect([name, shown(back.body, name)]).toEqual([name, value]);
    }
  });

  test('says while typing what the lines come to, and leaves out what is unfinished', async () => {
    const half = await post(
      app,
      '/tickets/audit',
      workedForm({ 'gross-2': '', 'net-2': '', 'price-3': 'x', total: '' }),
    );
    expect(half.statusCode).toBe(200);
    expect(half.body).toContain('3 of 5 lines come to');
    expect(half.body).not.toContain('To look at again');
    const whole = await post(app, '/tickets/audit', workedForm({ cashRounding: '' }));
    expect(whole.body).toContain('$430.56');
    expect(whole.body).toMatch(/In cash to the nearest \$0\.05: <b>\$428\.55<\/b>, a rounding of\s+−\$0\.01/);
    expect(whole.body).not.toContain('To look at again');
    const slip = await post(app, '/tickets/audit', workedForm({ cashRounding: '0' }));
    expect(slip.body).toContain('To look at again');
  });
});

describe('a cash rounding that the ticket does not print', () => {
  const unprinted = (total: string) => workedForm({ cashRounding: '', total });

  test('is worked out from the step of the yard, marked, and asked about by nobody', async () => {
    const check = await post(app, '/tickets/check', unprinted('428.55'));
    expect(check.body).toContain('No slip found');
    expect(check.body).toMatch(/Cash rounding<\/dt><dd class="figure">−\$0\.01<small class="worked-out">worked out/);
    const id = await save(unprinted('428.55'));
    expect(ticketTotal(ledger.db, id)).toMatchObject({ cash_rounding_minor: -1, worked_out: 'cash_rounding' });
    expect((await get(app, `/tickets/${id}`)).body).toContain('−$0.01<small class="worked-out">');
    expect(shown((await get(app, `/tickets/${id}/replacement`)).body, 'cashRounding')).toBe('');
  });

  test('is none when the total is not rounded, and a typed nought stays one', async () => {
    const unrounded = await post(app, '/tickets/check', unprinted('428.56'));
    expect(unrounded.body).toContain('One thing to look at');
    const nought = await post(app, '/tickets/check', workedForm({ cashRounding: '0' }));
    expect(nought.body).toContain('2 things to look at');
    const id = await save(workedForm({ cashRounding: '0' }));
    expect(ticketTotal(ledger.db, id)).toMatchObject({ cash_rounding_minor: 0, worked_out: '' });
    expect(shown((await get(app, `/tickets/${id}/replacement`)).body, 'cashRounding')).toBe('0.00');
  });
});

describe('the lines of the form', () => {
  test('show which bin a load came from, and the quote where another price stands', async () => {
    const form = await get(app, `/tickets/new?manifest=${manifestId}`);
    expect(form.body).toMatch(/value="A" checked> A <small>CU2<\/small>/);
    expect(form.body).toContain('<span id="quote-1" ></span>');
    const regraded = workedForm({ 'paidAs-1': String(gradeId(ledger, 'Light copper')) });
    const audit = await post(app, '/tickets/audit', regraded);
    expect(audit.body).toContain('<span id="quote-1" hx-swap-oob="true">quote 3.30</span>');
    const steel = await post(app, '/tickets/audit', workedForm({ 'per-5': 'lb' }));
    expect(steel.body).toContain('<span id="quote-5" hx-swap-oob="true">quote 190 per net ton</span>');
  });

  test('a problem says its line in the summary, and not again beside the field', async () => {
    const answer = await post(app, '/tickets/check', workedForm({ 'gross-2': 'x', 'loads-3': 'Q' }));
    expect(answer.body).toMatch(/href="#f-gross-2">Line 2: This weight/);
    expect(answer.body).toMatch(/href="#f-loads-3">Line 3: Load Q is not on this manifest/);
    expect(answer.body).toMatch(/id="f-gross-2-problem">This weight/);
  });

  test('a question on the check page leads back to its line in the form', async () => {
    const wrong = workedForm({ 'amount-4': '137.00', total: '418.55' });
    const check = await post(app, '/tickets/check', wrong);
    expect(check.body).toContain('formaction="/tickets/lines#line-4">Change line 4</button>');
    const back = await post(app, '/tickets/lines', { ...wrong, change: 'back' });
    expect([shown(back.body, 'amount-4'), back.body.includes('id="line-4"')]).toEqual(['137.00', true]);
  });
});

describe('what is asked about and saved as printed', () => {
  test('a wrong sum is a finding, and what is printed counts', async () => {
    const wrong = workedForm({ 'amount-4': '137.00', total: '418.55' });
    const check = await post(app, '/tickets/check', wrong);
    expect(check.body).toContain('Line 4: 60.0 lb at $2.45 per lb is $147.00, the ticket says $137.00');
    expect(check.body).toContain('Save as it is');
    const id = await save(wrong);
    expect(ticketLines(ledger.db, id)[3]?.amount_minor).toBe(13700);
    const { body } = await get(app, `/tickets/${id}`);
    expect(body).toContain('Ticket arithmetic −$10.00');
    expect(body).toContain('the ticket says $137.00');
  });

  test('a number entered before and a day in the future do not block', async () => {
    await save(lineForA());
    const second = lineForA({
      'loads-1': 'B',
      'price-1': '1.10',
      'gross-1': '48',
      total: '52.80',
      soldOn: '2025-03-21',
    });
    const check = await post(app, '/tickets/check', second);
    expect(check.statusCode).toBe(200);
    expect(check.body).toContain('Ticket 1 of this yard was entered before');
    expect(check.body).toContain('is after today');
    await save({ ...second, requestKey: 'another-key-2' });
    expect(storedTickets()).toBe(2);
  });
});

describe('one manifest, two tickets', () => {
  test('the first shows what is left out and how to go on, the second pays for it', async () => {
    const first = await save(lineForA());
    const before = await get(app, `/tickets/${first}`);
    expect(before.body).toContain('Not on the ticket');
    expect(before.body).toContain(`/tickets/new?manifest=${manifestId}`);
    const form = await get(app, `/tickets/new?manifest=${manifestId}`);
    expect(shown(form.body, 'lineCount')).toBe('4');
    const rest = { 'loads-1': 'B,C,D,E', 'gross-1': '320', 'price-1': '1', total: '320', requestKey: 'the-rest-1' };
    await save(lineForA(rest));
    const after = await get(app, `/tickets/${first}`);
    expect(after.body).not.toContain('Not on the ticket');
    const none = await get(app, `/tickets/new?manifest=${manifestId}`);
    expect(none.body).toContain('Every load of this manifest is on a');
  });
});

describe('a replacement', () => {
  test('opens with the ticket as printed, goes through the check page, and takes its place', async () => {
    const id = await save(workedForm());
    const form = await get(app, `/tickets/${id}/replacement`);
    expect(shown(form.body, 'net-5')).toBe('209');
    expect(shown(form.body, 'total')).toBe('428.55');
    const fields = workedForm({
      replaces: String(id),
      'price-2': '3.30',
      'amount-2': '34.65',
      total: '429.60',
      requestKey: 'replace-1',
    });
    const without = await post(app, '/tickets/check', { ...fields, reason: '' });
    expect(without.statusCode).toBe(422);
    const check = await post(app, '/tickets/check', { ...fields, reason: 'misread' });
    expect(check.body).toContain(`action="/tickets/${id}/replacements"`);
    const saved = await post(app, `/tickets/${id}/replacements`, { ...fields, reason: 'misread' });
    expect(saved.statusCode).toBe(303);
    const old = await get(app, `/tickets/${id}`);
    expect(old.body).toContain('took its place');
    expect(old.body).not.toContain('Where every cent went');
    const again = await post(app, `/tickets/${id}/replacements`, {
      ...fields,
      reason: 'again',
      requestKey: 'replace-2',
    });
    expect([again.statusCode, again.body.includes('was replaced already')]).toEqual([422, true]);
    expect((await get(app, `/tickets/${id}/replacement`)).statusCode).toBe(422);
    const list = await get(app, '/tickets');
    expect(list.body.match(/70011<\/a>/g)).toHaveLength(1);
  });
});

describe('figures that the ticket did not print', () => {
  test('are marked on its page, and follow when the ticket is replaced', async () => {
    const id = await save(lineForA({ 'tare-1': '1.0', total: '216.00' }));
    expect(ticketLines(ledger.db, id)[0]).toMatchObject({ net: '60.0', amount_minor: 21600, worked_out: 'net,amount' });
    const page = await get(app, `/tickets/${id}`);
    expect(page.body.match(/worked out, not printed/g)).toHaveLength(2);
    const { body } = await get(app, `/tickets/${id}/replacement`);
    expect(['gross-1', 'tare-1', 'net-1', 'amount-1'].map((name) => shown(body, name))).toEqual([
      '61.0',
      '1.0',
      '',
      '',
    ]);
    const fields = lineForA({
      'gross-1': '62.0',
      'tare-1': '1.0',
      total: '219.60',
      reason: 'misread',
      requestKey: 'replace-9',
    });
    const saved = await post(app, `/tickets/${id}/replacements`, fields);
    const line = ticketLines(ledger.db, idOf(saved.headers.location))[0];
    expect([line?.net, line?.amount_minor]).toEqual(['61.0', 21960]);
  });
});

describe('the page of a ticket', () => {
  /** The cells of the last row of "load by load", by their headings. */
  function sumsOf(body: string): Row {
    const table = /<table class="stack groups">[\s\S]*?<\/table>/.exec(body)?.[0] ?? '';
    const cells = [...(table.split('<tfoot>')[1] ?? '').matchAll(/data-label="([^"]*)">([^<]*)/g)];
    return Object.fromEntries(cells.map(([, label, text]) => [label ?? '', text ?? '']));
  }

  test('its sums load by load agree with the picture, also for a load that is on no line', async () => {
    const id = await save(lineForA({ 'gross-1': '60.4', 'loads-1': 'A', total: '217.44' }));
    const { body } = await get(app, `/tickets/${id}`);
    // By hand: 442.36 expected, 221.32 of it for B to E, which no line pays for; A read 1.0 lb less at 3.60.
    expect(body).toContain('Expected $442.36; Not on the ticket −$221.32; Scales −$3.60; ');
    expect(sumsOf(body)).toMatchObject({
      Expected: '$442.36',
      'Not on the ticket': '−$221.32',
      Scales: '−$3.60',
      Paid: '$217.44',
    });
    expect(body).toContain(`href="/manifests/${manifestId}#not-sold"`);
    const whole = await get(
      app,
      `/tickets/${await save(workedForm({ ...lineForA(), 'loads-1': 'B,C,D,E', requestKey: 'the-rest-2' }))}`,
    );
    expect(Object.keys(sumsOf(whole.body))).not.toContain('Not on the ticket');
  });

  test('says which loads are no longer in what was expected, and why', async () => {
    const id = await save(lineForA());
    const [, b, c] = loadsOf(ledger.db, manifestId);
    for (const load of [b, c]) returnLoad(ledger, load?.id ?? 0, day('2025-03-09'), '');
    expect((await get(app, `/tickets/${id}`)).body).toContain('Loads B and C came back since and are no longer in it.');
    const rest = { 'loads-1': 'D,E', 'gross-1': '230', 'price-1': '1', total: '230', requestKey: 'the-rest-3' };
    await save(lineForA(rest));
    expect((await get(app, `/tickets/${id}`)).body).toContain('no longer in it; loads D and E are on another ticket.');
  });

  test('names only the loads that were paid as another grade than their own', async () => {
    const paidAsBrass = { 'paidAs-1': String(gradeId(ledger, 'Yellow brass')), 'loads-1': 'A,C' };
    const id = await save(lineForA({ ...paidAsBrass, 'gross-1': '99.2', 'price-1': '2.45', total: '243.04' }));
    expect((await get(app, `/tickets/${id}`)).body).toContain(
      'Paid as another grade: A, 61.40 lb at home, as Yellow brass.',
    );
  });
});

describe('what is refused comes back to the form', () => {
  test('a load that is paid for already, beside its line', async () => {
    await save(lineForA());
    for (const address of ['/tickets/check', '/tickets']) {
      const again = await post(app, address, lineForA({ number: '2', requestKey: `again-${address.length}` }));
      expect(again.statusCode).toBe(422);
      expect(again.body).toContain('id="f-loads-1-problem">Load A is already paid for by ticket 1.');
      expect(shown(again.body, 'gross-1')).toBe('61.0');
    }
    expect(storedTickets()).toBe(1);
  });

  test('a load that is not on the manifest, a yard that is not its own, a manifest that is not there', async () => {
    const load = await post(app, '/tickets/check', lineForA({ 'loads-1': 'Z' }));
    expect(load.body).toContain('Load Z is not on this manifest');
    const south = newYard(ledger, 'Demo Yard South');
    const yard = await post(app, '/tickets/check', lineForA({ yard: String(south) }));
    expect(yard.body).toContain('id="f-manifest-problem">Manifest W1 was loaded for Demo Yard North');
    const none = await post(app, '/tickets/check', lineForA({ manifest: '999' }));
    expect(none.body).toContain('Choose the manifest that this ticket is for');
    for (const answer of [load, yard, none]) {
      expect([answer.statusCode, shown(answer.body, 'gross-1')]).toEqual([422, '61.0']);
    }
  });

  test('a second tap stores one ticket and leads to it', async () => {
    const [first, second] = [await post(app, '/tickets', lineForA()), await post(app, '/tickets', lineForA())];
    expect(second.headers.location).toBe(first.headers.location);
    expect(storedTickets()).toBe(1);
  });
});

describe('bad input', () => {
  const FIGURES = ['gross-1', 'tare-1', 'deduction-1', 'net-1', 'price-1', 'amount-1', 'charges', 'total'];
  const cases = FIGURES.flatMap((field) => BAD_FIGURES.map((bad): [string, string] => [field, bad]));
  test.each(cases)('%s refuses %s beside the field and keeps everything typed', async (field, bad) => {
    const answer = await post(app, '/tickets', lineForA({ [field]: bad, note: 'kept' }));
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain(`id="f-${field}-problem"`);
    expect(shown(answer.body, field)).toBe(bad);
    expect(answer.body).toContain('>kept</textarea>');
    expect(storedTickets()).toBe(0);
    expect((await post(app, '/tickets/audit', lineForA({ [field]: bad }))).statusCode).toBe(200);
  });

  const others: [string, string][] = [
    ['number', ''],
    ['number', 'x'.repeat(10_000)],
    ['soldOn', '2025-02-30'],
    ['soldOn', ''],
    ['soldOn', 'NaN'],
    ['paidAs-1', '999'],
    ['paidAs-1', ''],
    ['paidAs-1', '1e309'],
    ['unit-1', 'parsec'],
    ['per-1', ''],
    ['loads-1', 'Q'],
    ['description-1', 'x'.repeat(10_000)],
    ['tax', 'NaN'],
    ['tax', '1e309'],
    ['cashRounding', '0.001'],
    ['paidBy', 'shells'],
    ['note', 'x'.repeat(10_000)],
    ['yard', '999'],
    ['manifest', 'NaN'],
    ['total', ''],
    ['gross-1', '999999999'],
    ['tare-1', '70'],
    ['deduction-1', '120%'],
  ];
  test.each(others)('%s %.20s comes back with a sentence', async (field, bad) => {
    const answer = await post(app, '/tickets', lineForA({ [field]: bad }));
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain('class="problems"');
    expect(answer.body).toContain('class="problem"');
    if (field !== 'gross-1') expect(shown(answer.body, 'gross-1')).toBe('61.0');
    expect(storedTickets()).toBe(0);
  });

  test('a form without any field, and a change that is none, are no fault', async () => {
    for (const address of ['/tickets', '/tickets/check']) expect((await post(app, address, {})).statusCode).toBe(422);
    for (const address of ['/tickets/lines', '/tickets/audit'])
      expect((await post(app, address, {})).statusCode).toBe(200);
    for (const id of ['0', '999', 'x']) expect((await get(app, `/tickets/${id}`)).statusCode).toBe(404);
  });
});

describe('the list', () => {
  test('finds by number, yard, grade and days, and keeps what was asked', async () => {
    await save(workedForm());
    const found = async (query: string) => (await get(app, `/tickets?${query}`)).body.includes('70011</a>');
    expect(await found('number=001')).toBe(true);
    expect(await found('number=%25')).toBe(false);
    expect(await found(`yard=${yardId}&grade=${gradeId(ledger, 'Light copper')}`)).toBe(true);
    expect(await found('yard=999')).toBe(false);
    expect(await found('from=2025-03-08&to=2025-03-08')).toBe(true);
    expect(await found('from=2025-03-09')).toBe(false);
    const { body } = await get(app, '/tickets?number=001');
    for (const figure of ['$442.36', '$430.56', '$428.55', '−$13.81']) expect(body).toContain(figure);
    expect(shown(body, 'number')).toBe('001');
    const bad = await get(app, '/tickets?from=2025-02-30&yard=x');
    expect([bad.statusCode, bad.body.includes('Feb 2025 has 28 days')]).toEqual([422, true]);
  });
});
