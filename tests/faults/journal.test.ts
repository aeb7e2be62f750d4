import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { demoToday } from '../../seed/demo.ts';
import { closeToNetwork } from '../../server/access/acts.ts';
import { buildApp } from '../../server/app.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { readCsv } from '../../server/files/csv.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { journalPieces } from '../../server/files/journal/journal.ts';
import { nameIn } from '../../server/files/journal/text.ts';
import { recordInWeight } from '../../server/ledger/acts.ts';
import { writeMoney } from '../../server/money/money.ts';
import { reconciledTicket } from '../../server/reconciliation/queries.ts';
import { allStandingTickets } from '../../server/tickets/queries.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { writeWeight } from '../../server/units/write-weight.ts';
import { binId, clock, get, lb, newLedger, setUpWorkedExample } from '../helper.ts';
import { unpack } from '../ledgers/kept.ts';
import { anyLedger, fillRandom } from '../random-ledger.ts';
import { sellCopper } from '../sales.ts';
import { type AccountingProgram, ask, hledger, isThere, ledgerProgram, postings } from './accounting.ts';
import { measured, trials } from './trials.ts';

// The journal, read by two independent general-purpose accounting programs of Debian's packages (hledger 1.25 and Ledger
// 3.3, each with a parser of its own), and their balances beside those of the ledger and of its pages.

const programs = [hledger, ledgerProgram].map((program) => ({ program, isHere: isThere(program.name) }));
const hasHledger = programs[0]?.isHere === true;
/** Said in the names of tests that do not run, so that nobody takes them for passed. */
const why = (name: string, isHere: boolean) =>
  isHere ? '' : ` (NOT RUN: ${name} is not here and cannot be installed)`;

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-journal-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function writeJournal(ledger: Ledger, typed: Record<string, string> = {}): string {
  const file = join(folder, 'tarebook.journal');
  writeFileSync(file, [...journalPieces(ledger, typed)].join(''));
  return file;
}

/** A name as it was before it was written into a journal. */
const original = (written: string): string => (written === '%' ? '' : decodeURIComponent(written));

/** What the program says: exact figures by account and commodity, under the names that they have in the ledger. */
function balancesIn(program: AccountingProgram, file: string): Map<string, string> {
  const named = program.balances(file).map(({ account, commodity, amount }) => {
    const parts = account.split(':').map(restored);
    return [`${parts.join(' / ')}, ${restored(commodity)}`, new Decimal(amount).toFixed()] as const;
  });
  return new Map(named.sort());
}

/** A very long name is cut and has its row's number instead, by which it is told. */
const restored = (written: string): string => /%#\d+$/.exec(written)?.[0] ?? original(written);
const shownName = (name: string, id: number): string => restored(nameIn(name, id));
const isCut = (name: string, id: number): boolean => nameIn(name, id).endsWith(`%#${id}`);

const KINDS: Record<string, string> = {
  outside: 'Outside',
  sold: 'Sold',
  deducted: 'Deducted',
  scale_difference: 'Scale difference',
  count_difference: 'Count difference',
};

interface MassRow {
  kind: string;
  bin_id: number | null;
  code: string | null;
  item_id: number | null;
  item_kind: string | null;
  yard: string | null;
  yard_id: number | null;
  number: string | null;
  manifest_id: number | null;
  label: string | null;
  line_id: number | null;
  grade: string;
  grade_id: number;
  mass_ug: number;
}

/** The maintained balances, by SQL. */
const massRows = ({ db }: Ledger): MassRow[] =>
  db.sqlite
    .prepare(
      `select account.kind, bin.id as bin_id, bin.code, account.item_id, item_kind.name as item_kind, yard.name as yard, yard.id as yard_id, manifest.number,
          manifest.id as manifest_id, manifest_line.label, manifest_line.id as line_id, grade.name as grade,
          grade.id as grade_id, balance.mass_ug
        from balance join account on account.id = balance.account_id join grade on grade.id = balance.grade_id
          left join item on item.id = account.item_id left join item_kind on item_kind.id = item.item_kind_id
          left join bin on bin.id = account.bin_id left join manifest_line on manifest_line.id = account.manifest_line_id
          left join manifest on manifest.id = manifest_line.manifest_id left join yard on yard.id = manifest.yard_id
        where balance.mass_ug <> 0`,
    )
    .all() as MassRow[];

function accountOf(row: MassRow): string[] {
  if (row.kind === 'bin') return ['Bins', shownName(row.code ?? '', row.bin_id ?? 0)];
  if (row.kind === 'item') return ['Items', shownName(`${row.item_id} ${row.item_kind}`, row.item_id ?? 0)];
  if (row.kind !== 'load') return [KINDS[row.kind] ?? ''];
  const manifest = shownName(row.number ?? '', row.manifest_id ?? 0);
  return ['Loads', shownName(row.yard ?? '', row.yard_id ?? 0), manifest, shownName(row.label ?? '', row.line_id ?? 0)];
}

const LABELS: Record<string, string> = {
  scale: 'Scale',
  deduction: 'Deduction',
  grade: 'Grade',
  price: 'Price',
  rounding: 'Rounding',
  arithmetic: 'Arithmetic',
  notOnManifest: 'Not on the manifest',
  charges: 'Charges',
  tax: 'Tax',
  cashRounding: 'Cash rounding',
};
const PAID_BY: Record<string, string> = {
  cash: 'Cash',
  cheque: 'Cheque',
  card: 'Card',
  transfer: 'Transfer',
  other: 'Other',
};

type Sums = Map<string, number>;
const add = (sums: Sums, name: string, amount: number): Sums => sums.set(name, (sums.get(name) ?? 0) + amount);

/** The money of one ticket as its page works it out, by account of the journal; in minor units. */
function moneyOfTicket({ db, settings }: Ledger, ticketId: number): Sums {
  const reconciled = reconciledTicket(db, settings, ticketId);
  if (reconciled === undefined) throw new Error(`no ticket ${ticketId}`);
  const { reconciliation, loads, total } = reconciled;
  const sums: Sums = new Map();
  const paidFor = new Set(reconciliation.groups.filter((group) => group.isOnTicket).flatMap((group) => group.loadIds));
  for (const load of loads) {
    const grade = db.sqlite.prepare('select name from grade where id = ?').pluck().get(load.grade_id) as string;
    const account = paidFor.has(load.id)
      ? `Expected / ${shownName(grade, load.grade_id)}`
      : 'Expected of loads on no ticket';
    add(sums, account, -(load.expected_minor ?? 0));
  }
  for (const { name, amountMinor } of reconciliation.steps) {
    if (name in LABELS) add(sums, `Effects / ${LABELS[name]}`, -amountMinor);
  }
  return add(sums, `Received / ${PAID_BY[total?.paid_by ?? ''] ?? 'Foot not entered'}`, reconciliation.totalMinor);
}

/** Everything that the programs should say, from the balances and the tickets' own reconciliation. */
function balancesOf(ledger: Ledger): Map<string, string> {
  const mass = massRows(ledger).map((row) => {
    const account = ['Mass', ...accountOf(row)].join(' / ');
    return [
      `${account}, ${isCut(row.grade, row.grade_id) ? '' : 'kg '}${shownName(row.grade, row.grade_id)}`,
      row.mass_ug / 1,
    ] as const;
  });
  const money: Sums = new Map();
  for (const { id } of allStandingTickets(ledger.db)) {
    for (const [name, amount] of moneyOfTicket(ledger, id)) add(money, name, amount);
  }
  const written = [
    ...mass.map(([name, micrograms]) => [name, new Decimal(micrograms).div(1_000_000_000).toFixed()] as const),
    ...[...money].map(([name, minor]) => [`Money / ${name}, USD`, new Decimal(minor).div(100).toFixed()] as const),
  ];
  return new Map(written.filter(([, amount]) => amount !== '0').sort());
}

const csvOf = (ledger: Ledger, name: string, typed: Record<string, string> = {}): string[][] => {
  const file = findExport(name);
  if (file === undefined) throw new Error(`no export ${name}`);
  return readCsv(Buffer.from(writeExport(ledger, file, typed))).rows.map(({ cells }) => [...cells]);
};

/** The demo with every hostile word and document beside it, as it is kept in the repository. */
function openWhole(): Ledger {
  const file = join(folder, 'whole.sqlite');
  rmSync(file, { force: true });
  unpack(5, file);
  const ledger = openLedger(openDb(file), fixedClock(demoToday));
  closeToNetwork(ledger);
  return ledger;
}

describe('the journal of the demo, with hostile names and every kind of document', () => {
  let ledger: Ledger;
  let file: string;
  beforeAll(() => {
    ledger = openWhole();
    file = writeJournal(ledger);
  });
  afterAll(() => ledger.db.close());

  for (const { program, isHere } of programs) {
    test.skipIf(!isHere)(`has the balances of the ledger in ${program.name}${why(program.name, isHere)}`, () => {
      const due = balancesOf(ledger);
      const found = balancesIn(program, file);
      expect(found).toEqual(due);
      expect(due.size).toBeGreaterThan(150);
      const money = [...due.keys()].filter((name) => name.startsWith('Money')).length;
      measured(
        `balances that ${program.name} and the ledger agree on`,
        `${due.size - money} of mass, ${money} of money`,
      );
    });
  }

  const ofHledger = test.skipIf(!hasHledger);
  const note = why('hledger', hasHledger);

  ofHledger(`has every transfer and every ticket that counts, once, and no other transaction${note}`, () => {
    const codes = new Set(postings(file, 'M').map(({ code }) => code));
    const ids = (sql: string, mark: string) =>
      (ledger.db.sqlite.prepare(sql).pluck().all() as number[]).map((id) => `${mark}${id}`);
    const due = [...ids('select id from transfer', 'T'), ...allStandingTickets(ledger.db).map(({ id }) => `M${id}`)];
    expect([...codes].sort()).toEqual(due.sort());
    expect(Number(/^Transactions\s*: (\d+)/m.exec(ask('hledger', file, 'stats'))?.[1])).toBe(due.length);
    // Every transaction, and so all of them together, comes to nothing.
    expect(ask('hledger', file, 'balance', '--depth', '0', '-E', '--format', '%(total)').replace(/\s/g, '')).toMatch(
      /^0-*0$/,
    );
  });

  ofHledger(`has in the bins what their pages, the overview and the file show${note}`, async () => {
    const app = await buildApp({ db: ledger.db, clock: ledger.clock });
    const held = balancesIn(hledger, file);
    const rows = csvOf(ledger, 'on-hand', { unit: 'kg' });
    expect(rows.length).toBeGreaterThan(20);
    const home = (await get(app, '/')).body;
    for (const [code = '', grade = '', net = ''] of rows) {
      const kilograms = new Decimal(held.get(`Mass / Bins / ${code}, kg ${grade}`) ?? 0);
      expect([code, kilograms.toFixed(4)]).toEqual([code, net]);
      const mass = massUg(kilograms.times(1_000_000_000).toNumber());
      const shown = writeWeight(mass, ledger.settings.unit, ledger.settings.decimalMark);
      const { body } = await get(app, `/bins/${encodeURIComponent(code)}`);
      expect([code, body.includes(shown.split(' ')[0] ?? ''), home.includes(shown.split(' ')[0] ?? '')]).toEqual([
        code,
        true,
        true,
      ]);
    }
    await app.close();
  });

  ofHledger(`has sold of every grade what the report of realised prices has${note}`, () => {
    const reported = new Map<string, Decimal>();
    const rows = csvOf(ledger, 'realised-prices', { unit: 'kg' });
    for (const row of rows) {
      const [, grade = '', , , , paid = '0'] = row;
      reported.set(grade, (reported.get(grade) ?? new Decimal(0)).plus(paid));
    }
    const sold = [...balancesIn(hledger, file)].filter(([name]) => name.startsWith('Mass / Sold'));
    expect(sold.length).toBeGreaterThan(10);
    expect(new Set(sold.map(([name]) => name.split(', kg ')[1]))).toEqual(new Set(reported.keys()));
    for (const [name, amount] of sold) {
      const due = reported.get(name.split(', kg ')[1] ?? '') ?? new Decimal(0);
      // A row of the report is rounded to four decimals.
      expect([
        name,
        new Decimal(amount)
          .minus(due)
          .abs()
          .lt(0.00005 * rows.length),
      ]).toEqual([name, true]);
    }
  });

  ofHledger(`has the money of every ticket as its page shows it${note}`, async () => {
    const app = await buildApp({ db: ledger.db, clock: ledger.clock });
    const found = new Map<string, Sums>();
    for (const { code, account, amount } of postings(file, 'Money')) {
      const sums = found.get(code) ?? new Map();
      const name = account.split(':').slice(1).map(restored).join(' / ');
      found.set(code, add(sums, name, new Decimal(amount.replace(' USD', '')).times(100).toNumber()));
    }
    const tickets = allStandingTickets(ledger.db);
    expect(tickets.length).toBeGreaterThan(20);
    for (const { id } of tickets) {
      const due = [...moneyOfTicket(ledger, id)].filter(
        ([name, amount]) => amount !== 0 || name.startsWith('Received'),
      );
      expect([id, [...(found.get(`M${id}`) ?? [])].sort()]).toEqual([id, due.sort()]);
      const received = due.find(([name]) => name.startsWith('Received'))?.[1] ?? 0;
      const { body } = await get(app, `/tickets/${id}`);
      expect([id, body.includes(writeMoney(received as never, 'USD', '.'))]).toEqual([id, true]);
    }
    const totals = csvOf(ledger, 'tickets').map((row) => new Decimal(row.at(-1) || (row.at(-5) ?? '0')));
    const received = [...balancesIn(hledger, file)].filter(([name]) => name.startsWith('Money / Received'));
    const sumOf = (amounts: Decimal[]) => amounts.reduce((a, b) => a.plus(b), new Decimal(0)).toFixed(2);
    expect(sumOf(received.map(([, amount]) => new Decimal(amount)))).toBe(sumOf(totals));
    await app.close();
  });

  ofHledger(`values the bins by its prices as the pages do${note}`, () => {
    const csv = ask(
      'hledger',
      file,
      'balance',
      'Mass:Bins',
      '--flat',
      '-N',
      '-O',
      'csv',
      '--layout',
      'bare',
      `--value=${demoToday},USD`,
    );
    const found = new Map(
      (parse(csv) as string[][]).slice(1).map(([account = '', commodity = '', amount = '']) => {
        return [original(account.replace('Mass:Bins:', '')), commodity === 'USD' ? amount : ''] as const;
      }),
    );
    const rows = csvOf(ledger, 'on-hand').filter((row) => row[4] !== '' && row[4] !== '0.00');
    expect(rows.length).toBeGreaterThan(10);
    for (const [code = '', , , , value = ''] of rows) {
      const off = new Decimal(found.get(code) || 0).minus(value).abs();
      expect([code, off.lte(0.01)]).toEqual([code, true]);
    }
  });

  ofHledger(`says the same in grams and in tonnes${note}`, () => {
    const inUnit = (unit: string, perKilogram: number) =>
      [...balancesIn(hledger, writeJournal(ledger, { unit }))]
        .filter(([name]) => name.startsWith('Mass'))
        .map(([name, amount]) => [name.replace(`, ${unit} `, ', kg '), new Decimal(amount).div(perKilogram).toFixed()]);
    const kilograms = [...balancesIn(hledger, file)].filter(([name]) => name.startsWith('Mass')).sort();
    expect(inUnit('g', 1000).sort()).toEqual(kilograms);
    expect(inUnit('tonne', 0.001).sort()).toEqual(kilograms);
  });
});

describe('the journal of any ledger', () => {
  for (const { program, isHere } of programs) {
    test.skipIf(!isHere)(
      `has its balances in ${program.name}, whatever the names and notes${why(program.name, isHere)}`,
      () => {
        let [ledgers, balances, takenBack] = [0, 0, 0];
        fc.assert(
          fc.property(anyLedger, (parts) => {
            const ledger = fillRandom(parts);
            const due = balancesOf(ledger);
            expect(balancesIn(program, writeJournal(ledger))).toEqual(due);
            ledgers += 1;
            balances += due.size;
            const count = (sql: string) => ledger.db.sqlite.prepare(sql).pluck().get() as number;
            takenBack += count('select count(*) from transfer where reverses_id is not null');
            ledger.db.close();
          }),
          { numRuns: trials(3, 300), seed: 20251125 },
        );
        expect(takenBack).toBeGreaterThan(ledgers);
        measured(`random ledgers read by ${program.name}`, `${ledgers}, ${balances} balances, ${takenBack} reversals`);
      },
    );
  }
});

/** A ledger of many in-weights, by the act, with a weight that no two pounds add up to evenly. */
function fillMany(ledger: Ledger, count: number): void {
  setUpWorkedExample(ledger);
  const [binIds, gross] = [['CU2', 'WLO', 'YB1'].map((code) => binId(ledger, code)), lb('0.05')];
  ledger.db.transaction(() => {
    for (let at = 0; at < count; at += 1) {
      const typed = { grossTyped: '0.05', tareTyped: '0', unit: 'lb', grossUg: gross, tareUg: massUg(0) } as const;
      // The days go back and forth, so that they are not in the order of the ids.
      const occurredOn = day(`2025-03-${String(1 + ((at * 7) % 20)).padStart(2, '0')}`);
      const rest = { scaleId: null, containerId: null, occurredOn, isEstimate: false, note: '' };
      recordInWeight(ledger, { binId: binIds[at % 3] ?? 0, ...typed, ...rest });
    }
  });
}

describe('the journal of a currency with other decimals than two', () => {
  for (const { program, isHere } of programs) {
    const name = `has its money in ${program.name}: yen without decimals, dinars with three${why(program.name, isHere)}`;
    test.skipIf(!isHere)(name, () => {
      for (const [currency, digits] of [
        ['JPY', 0],
        ['KWD', 3],
      ] as const) {
        const ledger = newLedger();
        const { yardId } = setUpWorkedExample(ledger);
        sellCopper(ledger, { north: yardId, south: yardId });
        const file = writeJournal({ ...ledger, settings: { ...ledger.settings, currency } });
        const received = balancesIn(program, file).get(`Money / Received / Cash, ${currency}`);
        // 336.00 + 173.40 + 57.00 less 6.00, in minor units of dollars, which are taken for those of the currency.
        expect(received).toBe(new Decimal(56_040).div(10 ** digits).toFixed());
        ledger.db.close();
      }
    });
  }
});

describe('a long journal', () => {
  test.skipIf(!hasHledger)(
    `loses no microgram of tens of thousands of weighings, and is in the order of days${why('hledger', hasHledger)}`,
    () => {
      const ledger = newLedger();
      fillMany(ledger, trials(1_000, 50_000));
      const file = writeJournal(ledger);
      expect(balancesIn(hledger, file)).toEqual(balancesOf(ledger));
      const found = [...readFileSync(file, 'utf8').matchAll(/^(\d{4}-\d\d-\d\d) \* \(T(\d+)\)/gm)];
      const order = found.map(([, on = '', id = '']) => `${on} ${id.padStart(9, '0')}`);
      expect(order).toEqual([...order].sort());
      expect(order).toHaveLength(trials(1_000, 50_000));
      ledger.db.close();
    },
  );

  test('is sent while others are answered, and costs the server little memory', async () => {
    const count = trials(5_000, 300_000);
    const own = mkdtempSync(join(tmpdir(), 'tarebook-journal-'));
    const db = openDb(join(own, 'ledger.sqlite'));
    fillMany(openLedger(db, clock), count);
    db.close();
    const server = spawn(process.execPath, [fileURLToPath(new URL('../../server/main.ts', import.meta.url))], {
      env: { ...process.env, TAREBOOK_DATA: own, TAREBOOK_PORT: '0' },
    });
    try {
      const url = await addressOf(server);
      for (let warm = 0; warm < trials(5, 50); warm += 1) await (await fetch(url)).text();
      const before = megabytes(server, 'VmRSS');
      const { seconds, length, slowestMs } = await fetchBesides(`${url}export/tarebook.journal`, `${url}health`);
      const grown = megabytes(server, 'VmHWM') - before;
      measured(
        `journal of ${count} in-weights from the server`,
        `${(length / 1e6).toFixed(1)} MB in ${seconds.toFixed(1)} s, ${Math.round(count / seconds)} transactions a second, ` +
          `memory ${before.toFixed(0)} MB and ${grown.toFixed(0)} MB more, another answer after at most ${slowestMs.toFixed(0)} ms`,
      );
      expect(length).toBeGreaterThan(count * 100);
      // The text itself has some 150 bytes a transaction; only a small part of it is ever there at once.
      if (Number.isFinite(grown)) expect(grown).toBeLessThan(130);
    } finally {
      await new Promise((resolve) => {
        server.once('exit', resolve);
        server.kill('SIGTERM');
      });
      rmSync(own, { recursive: true, force: true });
    }
  });
});

const addressOf = (server: ChildProcess): Promise<string> =>
  new Promise((resolve, reject) => {
    server.once('exit', () => reject(new Error('the server did not start')));
    server.stdout?.on('data', (data) => {
      const found = /http:\/\/127[\d.:]+\//.exec(String(data))?.[0];
      if (found) resolve(found);
    });
  });

/** What Linux tells of a process; no number elsewhere. */
function megabytes({ pid }: ChildProcess, what: 'VmRSS' | 'VmHWM'): number {
  if (process.platform !== 'linux') return Number.NaN;
  return Number(new RegExp(`${what}:\\s+(\\d+) kB`).exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;
}

/** Fetches one address whole, and another one again and again meanwhile. */
async function fetchBesides(url: string, other: string) {
  const begun = performance.now();
  let [length, slowestMs, isOver] = [0, 0, false];
  const asking = (async () => {
    while (!isOver) {
      const asked = performance.now();
      await (await fetch(other)).text();
      slowestMs = Math.max(slowestMs, performance.now() - asked);
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  })();
  const { body } = await fetch(url);
  for await (const part of body ?? []) length += part.length;
  const seconds = (performance.now() - begun) / 1000;
  isOver = true;
  await asking;
  return { seconds, length, slowestMs };
}
