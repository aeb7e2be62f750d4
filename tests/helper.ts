import type { FastifyInstance } from 'fastify';
import { FORM_TOKEN, formTokenOf } from '../server/access/token.ts';
import { COOKIE } from '../server/access/visitor.ts';
import { buildApp } from '../server/app.ts';
import { fixedClock } from '../server/clock.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import type { Db } from '../server/db/database.ts';
import { openDb } from '../server/db/open.ts';
import { type InWeightInput, recordInWeight } from '../server/ledger/acts.ts';
import { findBinByCode } from '../server/ledger/queries.ts';
import { amountMinor, NO_MONEY } from '../server/money/money.ts';
import { addBin, addGrades, type GradeSeed, saveScale, saveYard } from '../server/setup/acts.ts';
import { findGradeByName } from '../server/setup/queries.ts';
import { day } from '../server/units/day.ts';
import { NO_MASS } from '../server/units/mass.ts';
import { readWeight } from '../server/units/read-weight.ts';

export const TODAY = day('2025-03-20');
export const clock = fixedClock(TODAY);

/** An empty ledger of its own for one test, kept in memory, on a day that never changes. */
export function newLedger(): Ledger {
  return openLedger(openDb(':memory:'), clock);
}

/** The real server around a ledger; close it after the test. */
export const newApp = (db: Db): Promise<FastifyInstance> => buildApp({ db, clock });

export const gradeSeed = (
  name: string,
  family: GradeSeed['family'],
  quotedPer: GradeSeed['quoted_per'] = 'lb',
): GradeSeed => ({
  name,
  family,
  quoted_per: quotedPer,
  code: '',
  recognise: '',
  spoiled_by: '',
  fallsBackTo: null,
});

/** The set-up of the worked example: five grades, five bins, one yard. All invented. */
export function setUpWorkedExample(ledger: Ledger): { yardId: number } {
  addGrades(ledger, [
    { ...gradeSeed('No. 2 copper', 'copper'), fallsBackTo: 'Light copper' },
    gradeSeed('Light copper', 'copper'),
    gradeSeed('Insulated wire, low recovery', 'insulated wire'),
    gradeSeed('Yellow brass', 'brass and bronze'),
    gradeSeed('Shreddable steel', 'ferrous', 'net ton'),
  ]);
  newBin(ledger, 'CU2', 'No. 2 copper');
  newBin(ledger, 'WLO', 'Insulated wire, low recovery');
  newBin(ledger, 'YB1', 'Yellow brass');
  newBin(ledger, 'YB2', 'Yellow brass');
  newBin(ledger, 'FE1', 'Shreddable steel');
  return { yardId: newYard(ledger, 'Demo Yard North') };
}

export function newBin(ledger: Ledger, code: string, gradeName: string): number {
  return addBin(ledger, {
    code,
    grade_id: gradeId(ledger, gradeName),
    place: '',
    container_id: null,
    full_mark_typed: '',
    full_mark_ug: null,
    opened_on: day('2025-01-01'),
    closed_on: null,
  });
}

export const newYard = (ledger: Ledger, name: string): number =>
  saveYard(ledger, null, {
    name,
    unit: 'lb',
    cash_step_minor: amountMinor(5),
    scale_division: '0.5',
    scale_class: 'III',
    notes: '',
  });

export const gradeId = (ledger: Ledger, name: string): number => findGradeByName(ledger.db, name)?.id ?? 0;
export const binId = (ledger: Ledger, code: string): number => findBinByCode(ledger.db, code)?.id ?? 0;
export const massIn = (ledger: Ledger, code: string): number => findBinByCode(ledger.db, code)?.mass_ug ?? -1;

/** Reads a weight for a test; throws when it cannot be read. */
export function lb(text: string) {
  const read = readWeight(text, { unit: 'lb', decimalMark: '.', zeroAllowed: true });
  if (!read.ok) throw new Error(read.refusal);
  return read.value.massUg;
}

/** Weighs in a net weight in pounds, bare, on a day. @returns the in-weight's id */
export const weighIn = (
  ledger: Ledger,
  code: string,
  gross: string,
  on = '2025-03-01',
  more: Partial<InWeightInput> = {},
): number =>
  recordInWeight(ledger, {
    binId: binId(ledger, code),
    scaleId: null,
    containerId: null,
    grossTyped: gross,
    tareTyped: '0',
    unit: 'lb',
    grossUg: lb(gross),
    tareUg: NO_MASS,
    occurredOn: day(on),
    isEstimate: false,
    note: '',
    ...more,
  });

/** A bench scale with steps of 0.05 lb and ± 0.1 lb stated. */
export const newBenchScale = (ledger: Ledger): number =>
  saveScale(ledger, null, {
    name: 'Bench scale',
    unit: 'lb',
    division: '0.05',
    class: '',
    tolerance: '0.1',
    capacity: '',
  });

/** The secret of one browser, which this computer's forms are tied to. */
const TOKEN = 'test-browser-'.padEnd(43, '0');
const HEADERS = { host: '127.0.0.1', cookie: `${COOKIE}=${TOKEN}` };

/** What a browser adds to a form of ours: where the form comes from, and the token that stands in it. */
export const OWN_POST = { ...HEADERS, origin: 'http://127.0.0.1' };
export const OWN_FIELDS = { [FORM_TOKEN]: formTokenOf(TOKEN) };

export const get = (app: FastifyInstance, url: string) => app.inject({ method: 'GET', url, headers: HEADERS });

/** Posts a form as a browser does. */
export const post = (app: FastifyInstance, url: string, fields: Record<string, string>) =>
  app.inject({
    method: 'POST',
    url,
    headers: { ...OWN_POST, 'content-type': 'application/x-www-form-urlencoded' },
    payload: new URLSearchParams({ ...OWN_FIELDS, ...fields }).toString(),
  });

/** Figures that no weight, price or amount field may take. */
export const BAD_FIGURES = [
  'NaN',
  '1e309',
  '-5',
  '1,2,3',
  '１２',
  '9'.repeat(10_000),
  '12 parsecs',
  '1.2.3',
  '0x10',
  '½',
];

/** So many items of one new kind, numbered from 1 in a ledger without others. */
export function newItems({ db, clock }: Ledger, count: number, kind = 'washing machine'): number[] {
  const kindId = db.insert('item_kind', { name: kind, cautions: '', as_is_grade_id: null, rule_minutes: '', note: '' });
  return Array.from({ length: count }, () =>
    db.insert('item', {
      ...{
        item_kind_id: kindId,
        name: '',
        got: 'found',
        source: '',
        proof: '',
        note: '',
        status: 'waiting',
        depth: '',
      },
      ...{ picked_up_on: clock.today(), cost_minor: NO_MONEY, disposal_minor: NO_MONEY, closed_on: null },
      ...{ weight_typed: '', weight_unit: '', weight_ug: null, recorded_at: clock.now() },
    }),
  );
}
