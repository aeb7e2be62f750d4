import SqliteDatabase from 'better-sqlite3';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { keepFiles, takeOff } from '../../server/attachments/acts.ts';
import { recordSample, saveWireKind } from '../../server/bench/acts.ts';
import { METAL_FIELDS } from '../../server/bench/metal-question.ts';
import { recordStripping } from '../../server/bench/stripping.ts';
import { WIRE_FIELDS } from '../../server/bench/wire-question.ts';
import { checkLedger, checks } from '../../server/check/checks.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { Db } from '../../server/db/database.ts';
import { closeItem } from '../../server/items/acts.ts';
import { saveItemKind } from '../../server/items/kind-acts.ts';
import { recordBinTransfer, recordRecount } from '../../server/ledger/acts.ts';
import { draftManifest, setDraftAside } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { NO_MONEY } from '../../server/money/money.ts';
import { takeQuoteBack } from '../../server/prices/acts.ts';
import { recordCheck } from '../../server/scales/acts.ts';
import { closeBin, saveContainer, saveGrade, saveScale, saveYardScale } from '../../server/setup/acts.ts';
import { recordTicket, returnLoad } from '../../server/tickets/acts.ts';
import { takeTicketBack } from '../../server/tickets/take-back.ts';
import { day } from '../../server/units/day.ts';
import {
  binId,
  clock,
  get,
  gradeId,
  lb,
  newApp,
  newBin,
  newItem,
  newLedger,
  newYard,
  OWN_FIELDS,
  OWN_POST,
  setUpWorkedExample,
  TODAY,
  weighIn,
} from '../helper.ts';
import { ticketOf } from '../sales.ts';
import { fillTeardown, type TeardownIds, teardownAddresses, teardownForms } from '../teardown-forms.ts';
import { loadWorkedManifest } from '../worked.ts';

// Every form of the app, every field of it, everything that a field can get: no fault, nothing lost, nothing by halves.

type Fields = Record<string, string>;

/** A question whose figures are all there. */
const WIRE_ASKED = '/bench/wire?kind=1&insulated=1&bare=3&by=conductor&size=14&length=9&piece=9&rate=2&wage=9';

/** As a browser never sends it, but as anything may arrive: UTF-8 of a lone surrogate, which is none. */
const LONE_SURROGATE = '%ED%A0%80';
const LONG = 'x'.repeat(10_000);
const NO_SUCH_ID = '424242';
const BEYOND_SAFE = '99999999999999999999';
const UNREADABLE = ['NaN', '1e309', '-5', '1,2,3', '１２', LONG, '12 parsecs', '2025-02-30', '<b>x</b>', '\u0000'];
const VALUES = [...UNREADABLE, LONE_SURROGATE, '', '999999999999', '0', NO_SUCH_ID, BEYOND_SAFE];

/** One form with a body that is accepted, and what its fields are. */
interface Form {
  route: string;
  url: string;
  good: Fields;
  /** Weights, prices and amounts: none may take what is not a figure. */
  figures?: string[];
  /** Amounts that may be taken off. */
  signed?: string[];
  days?: string[];
  units?: string[];
  /** Lists of rows of the ledger: an id that no row has is refused. */
  chosen?: string[];
  /** Tick boxes and fields that nobody types: they are not shown again as text. */
  unseen?: string[];
  /** What a good body is answered with. */
  status?: number;
}

let ledger: Ledger;
let app: FastifyInstance;
let image: Buffer;
let ids: {
  item: number;
  load: number;
  returned: number;
  draftLine: number;
  inWeight: number;
  yard: number;
  brass: number;
};
let unusedKind: number;
let torn: TeardownIds;

/** A ledger with a manifest that is partly sold, a draft, a ticket, a recount, a move, a closed and an empty bin. */
function fillLedger(): void {
  const yardId = setUpWorkedExample(ledger).yardId;
  newYard(ledger, 'Demo Yard South');
  saveContainer(ledger, null, { name: 'bucket', tare_typed: '2.2', tare_ug: lb('2.2') });
  saveScale(ledger, null, {
    name: 'bench',
    unit: 'lb',
    division: '0.05',
    capacity: '',
    class: 'III',
    tolerance: '',
  });
  recordCheck(ledger, {
    scaleId: 1,
    checkedOn: day('2025-03-01'),
    weightTyped: '10',
    readingTyped: '10.1',
    unit: 'lb',
    weightUg: lb('10'),
    readingUg: lb('10.1'),
    isAdjusted: false,
    note: '',
  });
  unusedKind = saveItemKind(ledger, null, {
    name: 'Piano',
    cautions: '',
    as_is_grade_id: null,
    rule_minutes: '',
    note: '',
    yields: [],
  });
  saveYardScale(ledger, yardId, null, { name: 'truck scale', division: '20', class: 'III L', families: ['ferrous'] });
  const manifestId = loadWorkedManifest(ledger, yardId);
  newBin(ledger, 'EMPTY', 'Light copper');
  closeBin(ledger, newBin(ledger, 'OLD', 'Light copper'));
  const on = { unit: 'lb', occurredOn: day('2025-03-10'), note: '' } as const;
  const inWeight = weighIn(ledger, 'CU2', '40', '2025-03-09');
  weighIn(ledger, 'YB1', '30', '2025-03-09');
  weighIn(ledger, 'FE1', '50', '2025-03-09');
  recordRecount(ledger, { ...on, binId: binId(ledger, 'YB1'), netTyped: '29.5', netUg: lb('29.5') });
  const [fromBinId, toBinId] = [binId(ledger, 'YB1'), binId(ledger, 'YB2')];
  recordBinTransfer(ledger, { ...on, fromBinId, toBinId, netTyped: '4', netUg: lb('4'), bookShortfall: false });
  draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: 'next run' });
  loadManifest(ledger, draftManifest(ledger, { yardId, binIds: [binId(ledger, 'FE1')], note: '' }), TODAY, false);
  const copper = { loads: [0], paidAs: 'No. 2 copper', gross: '61', deduction: '0', net: '61', price: '3.60' };
  const lines = [{ ...copper, amount: '219.60' }];
  recordTicket(ledger, ticketOf(ledger, { yardId, number: '70011', on: '2025-03-08', loads: [], lines }, manifestId));
  const [, load, returned] = loadsOf(ledger.db, manifestId);
  returnLoad(ledger, returned?.id ?? 0, day('2025-03-09'), 'wet');
  const draftLine = loadsOf(ledger.db, manifestId + 1)[0]?.id ?? 0;
  const brass = gradeId(ledger, 'Yellow brass');
  const paper = { content: 'pdf', width: null, height: null, preview: null } as const;
  const files = ['a', 'b'].map((mark) => ({
    ...paper,
    name: `${mark}.pdf`,
    sha256: mark.repeat(64),
    whole: () => Buffer.from('%PDF-1.4'),
  }));
  keepFiles(ledger, { kind: 'ticket', ids: [1] }, files, 'the paper');
  takeOff(ledger, 2);
  setDraftAside(ledger, draftManifest(ledger, { yardId, binIds: [binId(ledger, 'YB1')], note: '' }));
  const wire = { ...copper, loads: [1], paidAs: 'Insulated wire, low recovery', amount: '219.60' };
  const mistaken = { yardId, number: '70013', on: '2025-03-08', loads: [], lines: [wire] };
  takeTicketBack(ledger, recordTicket(ledger, ticketOf(ledger, mistaken, manifestId)), 'of another yard');
  takeQuoteBack(ledger, 2);
  const item = newItem(ledger, 'tap');
  const end = { status: 'taken apart', depth: 'coarse', disposalMinor: NO_MONEY } as const;
  closeItem(ledger, newItem(ledger, 'fan'), { ...end, closedOn: day('2025-03-10') });
  torn = fillTeardown(ledger);
  addWire();
  addUnused();
  ids = { item, load: load?.id ?? 0, returned: returned?.id ?? 0, draftLine, inWeight, yard: yardId, brass };
}

/** Two kinds of wire, one with a sample, and a lot that was stripped. */
function addWire(): void {
  const [wire, copper] = [gradeId(ledger, 'Insulated wire, low recovery'), gradeId(ledger, 'No. 2 copper')];
  for (const name of ['flat cord', 'spare cord']) {
    saveWireKind(ledger, null, { name, grade_id: wire, bare_grade_id: copper, note: '' });
  }
  weighIn(ledger, 'WLO', '20', '2025-03-09');
  const stripped = { beforeTyped: '2', afterTyped: '0.8', unit: 'lb', beforeUg: lb('2'), afterUg: lb('0.8') } as const;
  const on = day('2025-03-10');
  recordSample(ledger, { ...stripped, wireKindId: 1, seconds: 600, sampledOn: on, note: '', strippingId: null });
  const [fromBinId, toBinId] = [binId(ledger, 'WLO'), binId(ledger, 'CU2')];
  const lot = { fromBinId, toBinId, seconds: null, occurredOn: on, note: '', bookShortfall: false, sampleOf: null };
  recordStripping(ledger, { ...stripped, ...lot });
}

/** A grade, a container and a scale that nothing uses; the newest line of the trail is about the last of them. */
function addUnused(): void {
  const texts = { family: 'lead and zinc', quoted_per: 'lb', code: '', recognise: '', spoiled_by: '' } as const;
  saveGrade(ledger, null, { ...texts, name: 'Soft lead', falls_back_to_id: null });
  saveContainer(ledger, null, { name: 'spare', tare_typed: '1', tare_ug: lb('1') });
  saveScale(ledger, null, { name: 'spare', unit: 'lb', division: '', capacity: '', class: '', tolerance: '' });
}

/** Puts the ledger back as it was filled, under the running server. */
function putBack(): void {
  ledger?.db.close();
  const sqlite = new SqliteDatabase(image);
  sqlite.pragma('foreign_keys = ON');
  ledger = openLedger(new Db(sqlite), clock);
  if (app !== undefined) app.tarebook.db = ledger.db;
}

beforeAll(async () => {
  ledger = newLedger();
  fillLedger();
  image = ledger.db.sqlite.serialize();
  putBack();
  app = await newApp(ledger.db);
  await app.ready();
});
afterAll(async () => {
  await app.close();
  ledger.db.close();
});

const newestLine = () => ledger.db.sqlite.prepare('select max(id) from event').pluck().get() as number;

function formsOfTheApp(): Form[] {
  const { yard, brass, load, returned, draftLine, inWeight, item } = ids;
  const copper = String(gradeId(ledger, 'No. 2 copper'));
  const weighing = {
    bin: 'CU2',
    gross: '12.5',
    container: '1',
    tare: '',
    unit: 'lb',
    scale: '1',
    occurredOn: '2025-03-19',
    isEstimate: '',
    note: 'from a fan',
    item: String(item),
  };
  const weighingRules = {
    figures: ['gross', 'tare'],
    days: ['occurredOn'],
    units: ['unit'],
    chosen: ['bin', 'container', 'scale', 'item'],
    unseen: ['isEstimate', 'bookShortfall'],
  };
  const counted = { net: '20', unit: 'lb', occurredOn: '2025-03-19', note: 'after rain' };
  const countedRules = { figures: ['net'], days: ['occurredOn'], units: ['unit'] };
  const grade = {
    name: 'Tin',
    family: 'precious',
    quotedPer: 'lb',
    code: 'tin',
    fallsBackTo: '1',
    recognise: 'soft',
    spoiledBy: 'lead',
  };
  const wireKind = {
    name: 'house cable',
    grade: String(gradeId(ledger, 'Light copper')),
    bareGrade: copper,
    note: 'x',
  };
  const gradeRules = { units: ['quotedPer'], chosen: ['fallsBackTo', 'family'] };
  const bin = { code: 'SN1', place: 'shelf', container: '1', fullMark: '20', fullMarkUnit: 'lb' };
  const binRules = { figures: ['fullMark'], units: ['fullMarkUnit'], chosen: ['container'] };
  const itemKind = {
    name: 'Dish washer',
    cautions: 'mercury,pcb',
    asIsGrade: String(brass),
    ruleMinutes: '40',
    'yieldGrade-1': copper,
    'yieldPercent-1': '2.5',
    'yieldGrade-2': String(brass),
    'yieldPercent-2': '1',
    note: 'stainless inside',
  };
  const itemKindRules = {
    figures: ['ruleMinutes', 'yieldPercent-1', 'yieldPercent-2'],
    chosen: ['asIsGrade', 'yieldGrade-1', 'yieldGrade-2', 'cautions'],
    unseen: ['cautions'],
  };
  const container = { name: 'tub', tare: '1.5', unit: 'lb' };
  const containerRules = { figures: ['tare'], units: ['unit'] };
  const scale = { name: 'floor', unit: 'lb', division: '0.5', capacity: '300', class: 'III', tolerance: '0.5' };
  const scaleRules = { figures: ['division', 'capacity', 'tolerance'], units: ['unit'], chosen: ['class'] };
  const check = {
    checkedOn: '2025-03-19',
    weight: '20',
    reading: '20.05',
    unit: 'lb',
    isAdjusted: '',
    note: 'marked weight',
  };
  const checkRules = {
    figures: ['weight', 'reading'],
    days: ['checkedOn'],
    units: ['unit'],
    unseen: ['isAdjusted'],
  };
  const yardScale = { name: 'shed scale', division: '0.2', class: 'III', families: 'copper' };
  const yardScaleRules = { figures: ['division'], chosen: ['class', 'families'], unseen: ['families'] };
  const yardForm = {
    name: 'Demo Yard East',
    unit: 'lb',
    cashStep: '0.05',
    scaleDivision: '1',
    scaleClass: 'III',
    notes: 'shut on Mondays',
  };
  const yardRules = { figures: ['cashStep', 'scaleDivision'], units: ['unit'], chosen: ['scaleClass'] };
  const of = (name: string) => `${name}-${draftLine}`;
  const loadOut = {
    [of('gross')]: '41',
    [of('tare')]: '1',
    [of('container')]: '',
    [of('unit')]: 'lb',
    [of('scale')]: '1',
    [of('empties')]: '1',
  };
  const loadOutRules = {
    figures: [of('gross'), of('tare')],
    units: [of('unit')],
    chosen: [of('container'), of('scale')],
    unseen: [of('empties'), 'bins', 'bookShortfall'],
  };
  const back = { returnedOn: '2025-03-19', reason: 'yard was shut' };
  const ticket = {
    manifest: '1',
    yard: String(yard),
    number: '70012',
    soldOn: '2025-03-09',
    'paidAs-1': String(gradeId(ledger, 'Insulated wire, low recovery')),
    'loads-1': 'B',
    'gross-1': '48',
    'tare-1': '0',
    'deduction-1': '1',
    'net-1': '47',
    'unit-1': 'lb',
    'price-1': '1.10',
    'per-1': 'lb',
    'amount-1': '51.70',
    'description-1': 'wire',
    lineCount: '1',
    charges: '1.00',
    tax: '0.50',
    cashRounding: '0',
    total: '51.20',
    paidBy: 'cheque',
    note: 'paid late',
  };
  const ticketRules = {
    figures: ['gross-1', 'tare-1', 'deduction-1', 'net-1', 'price-1', 'amount-1', 'charges', 'total'],
    signed: ['tax', 'cashRounding'],
    days: ['soldOn'],
    units: ['unit-1', 'per-1'],
    chosen: ['manifest', 'yard', 'paidAs-1', 'loads-1', 'paidBy'],
    unseen: ['lineCount', 'replaces', 'change'],
  };
  const replacement = {
    ...ticket,
    'paidAs-1': copper,
    'loads-1': 'A',
    'price-1': '3.60',
    'amount-1': '169.20',
    total: '168.70',
    reason: 'wrong net',
  };
  const board = {
    yard: String(yard),
    seenOn: '2025-03-19',
    seenWhere: 'board',
    [`price-${copper}`]: '3.70',
    [`per-${copper}`]: 'lb',
    [`price-${brass}`]: '2.50',
    [`per-${brass}`]: 'lb',
  };
  const pickUp = {
    kind: '1',
    newKind: '',
    weight: '25.4',
    unit: 'lb',
    got: 'bought',
    cost: '12.50',
    source: 'a neighbour',
    pickedUpOn: '2025-03-02',
    proof: 'a note of theirs',
    name: 'white',
    note: 'lid cracked',
  };
  const pickUpRules = { figures: ['weight', 'cost'], days: ['pickedUpOn'], units: ['unit'], chosen: ['kind', 'got'] };
  const thrownAway = { disposal: '5', closedOn: '2025-03-19' };
  return [
    { route: '/items', url: '/items', good: pickUp, ...pickUpRules },
    {
      route: '/items/:id/corrections',
      url: `/items/${item + 1}/corrections`,
      good: { ...pickUp, ...thrownAway, depth: 'fine' },
      ...pickUpRules,
      figures: [...pickUpRules.figures, 'disposal'],
      days: ['pickedUpOn', 'closedOn'],
      chosen: ['kind', 'got', 'depth'],
    },
    { route: '/items/:id/removal', url: `/items/${item + 1}/removal`, good: {} },
    {
      route: '/items/:id/sale-as-is',
      url: `/items/${item}/sale-as-is`,
      good: { bin: 'FE1', closedOn: '2025-03-19' },
      days: ['closedOn'],
      chosen: ['bin'],
    },
    {
      route: '/items/:id/discarding',
      url: `/items/${item}/discarding`,
      good: thrownAway,
      figures: ['disposal'],
      days: ['closedOn'],
    },
    { route: '/items/:id/reopening', url: `/items/${item + 1}/reopening`, good: {} },
    { route: '/items/:id/photos', url: `/items/${item}/photos`, good: { caption: 'the receipt' }, status: 422 },
    ...teardownForms(torn),
    { route: '/in-weights', url: '/in-weights', good: weighing, ...weighingRules },
    {
      route: '/in-weights/:id/undo',
      url: `/in-weights/${inWeight}/undo`,
      good: { bookShortfall: '', back: 'bin' },
      unseen: ['bookShortfall', 'back'],
    },
    {
      route: '/in-weights/:id/corrections',
      url: `/in-weights/${inWeight}/corrections`,
      good: { ...weighing, reason: 'misread', bookShortfall: '1' },
      ...weighingRules,
    },
    { route: '/bins/:code/recounts', url: '/bins/YB1/recounts', good: counted, ...countedRules },
    { route: '/bins/:code/recounts/:id/undo', url: '/bins/YB1/recounts/1/undo', good: {} },
    {
      route: '/bins/:code/transfers',
      url: '/bins/YB1/transfers',
      good: { ...counted, toBin: 'FE1', bookShortfall: '' },
      ...countedRules,
      chosen: ['toBin'],
      unseen: ['bookShortfall'],
    },
    { route: '/bins/:code/bin-transfers/:id/undo', url: '/bins/YB1/bin-transfers/1/undo', good: {} },
    { route: '/bins/:code/strippings/:id/undo', url: '/bins/WLO/strippings/1/undo', good: {} },
    {
      route: '/strippings',
      url: '/strippings',
      good: {
        fromBin: 'WLO',
        toBin: 'CU2',
        before: '5',
        after: '2',
        unit: 'lb',
        minutes: '20',
        occurredOn: '2025-03-19',
        sampleOf: '1',
        note: 'cords',
        bookShortfall: '',
      },
      figures: ['before', 'after', 'minutes'],
      days: ['occurredOn'],
      units: ['unit'],
      chosen: ['fromBin', 'toBin', 'sampleOf'],
      unseen: ['bookShortfall'],
    },
    { route: '/bench/wire/kinds', url: '/bench/wire/kinds', good: wireKind, chosen: ['grade', 'bareGrade'] },
    { route: '/bench/wire/kinds/:id', url: '/bench/wire/kinds/1', good: wireKind, chosen: ['grade', 'bareGrade'] },
    { route: '/bench/wire/kinds/:id/removal', url: '/bench/wire/kinds/2/removal', good: {} },
    {
      route: '/bench/wire/kinds/:id/samples',
      url: '/bench/wire/kinds/1/samples',
      good: { before: '100', after: '41', unit: 'g', minutes: '3', sampledOn: '2025-03-19', note: 'from a fan' },
      figures: ['before', 'after', 'minutes'],
      days: ['sampledOn'],
      units: ['unit'],
    },
    { route: '/wire-samples/:id/undo', url: '/wire-samples/1/undo', good: {} },
    {
      route: '/prices/boards',
      url: '/prices/boards',
      good: board,
      figures: [`price-${copper}`, `price-${brass}`],
      units: [`per-${copper}`, `per-${brass}`],
      days: ['seenOn'],
      chosen: ['yard'],
    },
    {
      route: '/setup/ledger',
      url: '/setup/ledger',
      good: {
        unit: 'lb',
        currency: 'USD',
        decimalMark: '.',
        staleQuoteDays: '14',
        scaleCheckDays: '90',
        wage: '12',
        wasteCost: '0.05',
        wastePer: 'lb',
      },
      figures: ['staleQuoteDays', 'scaleCheckDays', 'wage', 'wasteCost'],
      units: ['unit'],
      chosen: ['currency', 'decimalMark'],
    },
    { route: '/setup/grades', url: '/setup/grades', good: grade, ...gradeRules },
    { route: '/setup/grades/:id', url: `/setup/grades/${brass}`, good: grade, ...gradeRules },
    {
      route: '/setup/bins',
      url: '/setup/bins',
      good: { ...bin, grade: copper },
      ...binRules,
      chosen: ['container', 'grade'],
    },
    { route: '/setup/bins/:id', url: '/setup/bins/1', good: bin, ...binRules },
    { route: '/setup/bins/:id/close', url: `/setup/bins/${binId(ledger, 'EMPTY')}/close`, good: {} },
    {
      route: '/setup/tags/address',
      url: '/setup/tags/address',
      good: { bins: '1, 2', address: '', name: 'garage.local' },
      unseen: ['bins'],
    },
    { route: '/setup/bins/:id/removal', url: `/setup/bins/${binId(ledger, 'EMPTY')}/removal`, good: {} },
    { route: '/setup/bins/:id/reopen', url: `/setup/bins/${binId(ledger, 'OLD')}/reopen`, good: {} },
    { route: '/setup/grades/:id/removal', url: `/setup/grades/${gradeId(ledger, 'Soft lead')}/removal`, good: {} },
    { route: '/setup/containers/:id/removal', url: '/setup/containers/2/removal', good: {} },
    { route: '/setup/scales/:id/removal', url: '/setup/scales/2/removal', good: {} },
    { route: '/setup/yards/:id/removal', url: '/setup/yards/2/removal', good: {} },
    { route: '/trail/:id/put-back', url: `/trail/${newestLine()}/put-back`, good: {} },
    { route: '/quotes/:id/take-backs', url: '/quotes/1/take-backs', good: {} },
    { route: '/quotes/:id/take-backs/undo', url: '/quotes/2/take-backs/undo', good: {} },
    { route: '/tickets/:id/take-backs', url: '/tickets/1/take-backs', good: { reason: 'twice' } },
    { route: '/tickets/:id/take-backs/undo', url: '/tickets/2/take-backs/undo', good: {} },
    { route: '/manifests/:id/taking-up', url: '/manifests/4/taking-up', good: {} },
    { route: '/setup/containers', url: '/setup/containers', good: container, ...containerRules },
    { route: '/setup/containers/:id', url: '/setup/containers/1', good: container, ...containerRules },
    { route: '/setup/item-kinds', url: '/setup/item-kinds', good: itemKind, ...itemKindRules },
    { route: '/setup/item-kinds/:id', url: '/setup/item-kinds/1', good: itemKind, ...itemKindRules },
    { route: '/setup/item-kinds/:id/removal', url: `/setup/item-kinds/${unusedKind}/removal`, good: {} },
    { route: '/setup/item-kinds/starter', url: '/setup/item-kinds/starter', good: {} },
    { route: '/setup/scales', url: '/setup/scales', good: scale, ...scaleRules },
    { route: '/setup/scales/:id', url: '/setup/scales/1', good: scale, ...scaleRules },
    { route: '/setup/scales/:id/checks', url: '/setup/scales/1/checks', good: check, ...checkRules },
    { route: '/scale-checks/:id/undo', url: '/scale-checks/1/undo', good: {} },
    { route: '/scale-checks/:id/adjustment', url: '/scale-checks/1/adjustment', good: {} },
    { route: '/setup/yards', url: '/setup/yards', good: yardForm, ...yardRules },
    { route: '/setup/yards/:id', url: `/setup/yards/${yard}`, good: yardForm, ...yardRules },
    {
      route: '/setup/yards/:id/grade-names',
      url: `/setup/yards/${yard}/grade-names`,
      good: { [`name-${brass}`]: 'mixed brass', page: '1' },
      unseen: ['page'],
    },
    { route: '/setup/yards/:id/scales', url: `/setup/yards/${yard}/scales`, good: yardScale, ...yardScaleRules },
    {
      route: '/setup/yards/:id/scales/:scale',
      url: `/setup/yards/${yard}/scales/1`,
      good: yardScale,
      ...yardScaleRules,
    },
    { route: '/setup/yards/:id/scales/:scale/removal', url: `/setup/yards/${yard}/scales/1/removal`, good: {} },
    { route: '/starter-list', url: '/starter-list', good: {}, status: 422 },
    { route: '/last-entry/acceptance', url: '/last-entry/acceptance', good: {} },
    { route: '/demo', url: '/demo', good: {}, status: 404 },
    {
      route: '/import',
      url: '/import',
      good: { kind: 'quotes', text: `yard,grade,price,per,seen_on\nDemo Yard North,Yellow brass,2.60,lb,2025-03-18\n` },
      chosen: ['kind'],
      status: 200,
    },
    {
      route: '/manifests',
      url: '/manifests',
      good: { yard: String(yard), bins: String(binId(ledger, 'YB1')), note: 'Saturday' },
      chosen: ['yard', 'bins'],
      unseen: ['bins'],
    },
    { route: '/manifests/:id/weights', url: '/manifests/2/weights', good: loadOut, ...loadOutRules },
    {
      route: '/manifests/:id/loading',
      url: '/manifests/2/loading',
      good: { ...loadOut, loadedOn: '2025-03-19', bookShortfall: '' },
      ...loadOutRules,
      days: ['loadedOn'],
    },
    {
      route: '/manifests/:id/lines',
      url: '/manifests/2/lines',
      good: { ...loadOut, bins: String(binId(ledger, 'YB1')) },
      ...loadOutRules,
      chosen: [...loadOutRules.chosen, 'bins'],
    },
    {
      route: '/manifests/:id/lines/:line/removal',
      url: `/manifests/2/lines/${draftLine}/removal`,
      good: loadOut,
      unseen: Object.keys(loadOut),
    },
    { route: '/manifests/:id/set-aside', url: '/manifests/2/set-aside', good: {} },
    { route: '/manifests/:id/copies', url: '/manifests/1/copies', good: {} },
    { route: '/manifests/:id/loading/undo', url: '/manifests/3/loading/undo', good: {} },
    { route: '/manifests/:id/return', url: '/manifests/1/return', good: back, days: ['returnedOn'] },
    { route: '/loads/:id/return', url: `/loads/${load}/return`, good: back, days: ['returnedOn'] },
    {
      route: '/loads/:id/return/undo',
      url: `/loads/${returned}/return/undo`,
      good: { bookShortfall: '' },
      unseen: ['bookShortfall'],
    },
    { route: '/tickets', url: '/tickets', good: ticket, ...ticketRules },
    {
      route: '/tickets/lines',
      url: '/tickets/lines',
      good: { ...ticket, change: 'split:1' },
      unseen: ['lineCount', 'change'],
      status: 200,
    },
    { route: '/tickets/audit', url: '/tickets/audit', good: ticket, unseen: Object.keys(ticket), status: 200 },
    { route: '/tickets/check', url: '/tickets/check', good: ticket, ...ticketRules, status: 200 },
    { route: '/tickets/:id/photos', url: '/tickets/1/photos', good: { caption: 'the paper' }, status: 422 },
    { route: '/manifests/:id/photos', url: '/manifests/1/photos', good: { caption: 'the paper' }, status: 422 },
    { route: '/bins/:code/photos', url: '/bins/CU2/photos', good: { caption: 'the paper' }, status: 422 },
    { route: '/photos/:id/captions', url: '/photos/1/captions', good: { caption: 'the foot of it' } },
    { route: '/photos/:id/removal', url: '/photos/1/removal', good: {} },
    { route: '/photos/:id/removal/undo', url: '/photos/2/removal/undo', good: {} },
    { route: '/tickets/:id/replacements', url: '/tickets/1/replacements', good: replacement, ...ticketRules },
  ];
}

/** The addresses that take a post, from the routes themselves. */
function postRoutes(): string[] {
  const way: string[] = [];
  const lines = app.printRoutes({ commonPrefix: false, method: 'POST' }).split('\n');
  return lines.flatMap((line) => {
    const match = /^([│ ]*)[├└]── (\S+)( \(POST\))?$/.exec(line);
    if (match === null) return [];
    const depth = (match[1] ?? '').length / 4;
    way.length = depth;
    way.push(match[2] ?? '');
    return match[3] === undefined ? [] : [way.join('').replace(/\/+/g, '/')];
  });
}

const encoded = (text: string): string => (text === LONE_SURROGATE ? text : encodeURIComponent(text));
const bodyOf = (pairs: readonly (readonly [string, string])[]): string =>
  pairs.map(([name, text]) => `${encodeURIComponent(name)}=${encoded(text)}`).join('&');

let posts = 0;
function send(url: string, payload: string) {
  posts += 1;
  const headers = { ...OWN_POST, 'content-type': 'application/x-www-form-urlencoded' };
  return app.inject({ method: 'POST', url, headers, payload: `${new URLSearchParams(OWN_FIELDS)}&${payload}` });
}

const ENTITIES: Fields = { amp: '&', lt: '<', gt: '>', quot: '"', '#39': "'" };
const unescaped = (text: string): string =>
  text.replace(/&(amp|lt|gt|quot|#39);/g, (_, name: string) => ENTITIES[name] ?? '');

/** What the field of a page holds: its text, its chosen option, or its ticked boxes and buttons. Undefined when it is not there. */
function shownIn(body: string, name: string): string | undefined {
  const at = name.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
  const select = new RegExp(`<select[^>]*name="${at}"[^>]*>([\\s\\S]*?)</select>`).exec(body)?.[1];
  if (select !== undefined) return unescaped(/<option value="([^"]*)" selected/.exec(select)?.[1] ?? '');
  const area = new RegExp(`<textarea[^>]*name="${at}"[^>]*>([\\s\\S]*?)</textarea>`).exec(body)?.[1];
  if (area !== undefined) return unescaped(area);
  const inputs = [...body.matchAll(new RegExp(`<input[^>]*name="${at}"[^>]*>`, 'g'))].map(([tag]) => tag);
  if (inputs.length === 0) return undefined;
  const valueIn = (tag: string) => unescaped(/value="([^"]*)"/.exec(tag)?.[1] ?? '');
  if (!inputs.every((tag) => /type="(checkbox|radio)"/.test(tag))) return valueIn(inputs[0] ?? '');
  return inputs
    .filter((tag) => /\schecked/.test(tag))
    .map(valueIn)
    .join(',');
}

/** Where the sentences above a form lead; undefined for one about the form as a whole. */
function linksOf(body: string): (string | undefined)[] {
  const summary = /<div class="problems"[\s\S]*?<\/ul>/.exec(body)?.[0] ?? '';
  return [...summary.matchAll(/<li>(?:<a href="#([^"]*)">)?/g)].map(([, target]) => target);
}

/** The part of a page that is the form of an address; the whole page where that form has several addresses. */
const formIn = (body: string, url: string): string =>
  body.split('<form ').find((part) => part.startsWith(`method="post" action="${url}"`)) ?? body;

/** What is wrong with an answer of 422: a value lost, no sentence, a sentence that leads nowhere. */
function faultsOf422(form: Form, body: string, sent: Fields): string[] {
  const links = linksOf(body);
  const nowhere = links.filter((target) => target !== undefined && !body.includes(`id="${target}"`));
  const shown = formIn(body, form.url);
  const lost = Object.entries(sent)
    .filter(([name]) => !form.unseen?.includes(name) && name !== 'requestKey')
    .filter(([name, text]) => shownIn(shown, name) !== text)
    .map(([name]) => `${name} is shown as “${String(shownIn(shown, name)).slice(0, 20)}”`);
  return [
    ...(links.length === 0 ? ['no sentence'] : []),
    ...nowhere.map((target) => `a sentence leads to ${target}, which is not there`),
    ...lost,
  ];
}

const isChanged = (): boolean => !ledger.db.sqlite.serialize().equals(image);
const quickChecks = checks.filter(({ name }) => !name.startsWith('the rules') && !name.startsWith('the file'));
const broken = (): string[] => quickChecks.filter(({ ask }) => ask(ledger).length > 0).map(({ name }) => name);

/** Sends one changed body and gives what is wrong with the answer. */
async function faultsOf(form: Form, field: string, pairs: [string, string][], mustRefuse: boolean): Promise<string[]> {
  const answer = await send(form.url, bodyOf([...pairs, ['requestKey', `bad-input-${posts}`]]));
  const { statusCode, body } = answer;
  const faults: string[] = [];
  if (![200, 303, 404, 422].includes(statusCode)) faults.push(`answered ${statusCode}`);
  if (mustRefuse && statusCode !== 422) faults.push(`answered ${statusCode}, not 422`);
  if (statusCode === 422 && form.status !== 422) {
    const isSimple = new Set(pairs.map(([name]) => name)).size === pairs.length;
    faults.push(...faultsOf422(form, body, isSimple ? Object.fromEntries(pairs) : {}));
    if (mustRefuse && !linksOf(body).some((target) => target?.endsWith(field))) faults.push('the field is not named');
  }
  if (statusCode !== 303 && isChanged()) faults.push('the ledger is another');
  if (statusCode === 303) {
    const next = await app.inject({ url: String(answer.headers.location), headers: { host: '127.0.0.1' } });
    if (next.statusCode !== 200) faults.push(`leads to ${next.statusCode}`);
    faults.push(...broken());
    putBack();
  }
  return faults;
}

/** Whether a field must refuse a text, whatever else is on the form. */
function refuses(form: Form, field: string, text: string): boolean {
  const isNonsense = UNREADABLE.includes(text) || text === LONE_SURROGATE || text === BEYOND_SAFE;
  if (form.figures?.includes(field)) return isNonsense;
  if (form.signed?.includes(field)) return isNonsense && text !== '-5';
  if (form.days?.includes(field)) return true;
  if (form.units?.includes(field)) return text !== '';
  if (form.chosen?.includes(field)) return text !== '' && !(field === 'bins' && text === '1,2,3');
  return false;
}

async function tryForm(form: Form): Promise<string[]> {
  const found: string[] = [];
  const good = Object.entries(form.good);
  const attempt = async (field: string, text: string, pairs: [string, string][], mustRefuse = false) => {
    const faults = await faultsOf(form, field, pairs, mustRefuse);
    if (faults.length > 0) found.push(`${field} ${JSON.stringify(text.slice(0, 24))}: ${faults.join('; ')}`);
  };
  for (const [field] of [...good, ['requestKey', ''] as const]) {
    for (const text of VALUES) {
      const pairs = good.map(([name, was]): [string, string] => [name, name === field ? text : was]);
      if (field === 'requestKey') pairs.push([field, text]);
      await attempt(field, text, pairs, refuses(form, field, text));
    }
    await attempt(
      field,
      'left out',
      good.filter(([name]) => name !== field),
    );
    await attempt(field, 'twice', [...good, ...good.filter(([name]) => name === field)]);
  }
  return found;
}

/**
 * Who gets in has tests of its own: these forms end or begin the session that the others need. So have the backups,
 * which are of ledgers that are files.
 */
const isElsewhere = (route: string): boolean =>
  /^\/(sign-in|sign-out|pairings|setup\/devices\/.*|setup\/backups(\/.*)?)$/.test(route);

test('this test knows every form of the app', () => {
  expect(
    formsOfTheApp()
      .map(({ route }) => route)
      .toSorted(),
  ).toEqual(
    postRoutes()
      .filter((route) => !isElsewhere(route))
      .toSorted(),
  );
});

test('every form takes a good body', async () => {
  for (const form of formsOfTheApp()) {
    const { statusCode } = await send(form.url, bodyOf(Object.entries(form.good)));
    expect([form.route, statusCode]).toEqual([form.route, form.status ?? 303]);
    putBack();
  }
});

test('whatever a field holds: no fault, everything typed comes back, nothing is stored by halves', async () => {
  const found: string[] = [];
  for (const form of formsOfTheApp()) {
    const own = await tryForm(form);
    found.push(...own.map((fault) => `${form.route} ${fault}`));
  }
  console.log(`${posts} posts`);
  expect(found.slice(0, 40), `${found.length} in all`).toEqual([]);
  expect(checkLedger(ledger).filter((check) => check.found.length > 0)).toEqual([]);
}, 240_000);

test('no address and no filter is a fault, whatever it says', async () => {
  const long = LONG.slice(0, 5000);
  const texts = [
    '-1',
    'NaN',
    '1e309',
    '１２',
    '',
    long,
    '2025-02-30',
    'stone',
    BEYOND_SAFE,
    '0',
    '%00',
    LONE_SURROGATE,
  ];
  const addresses = texts.flatMap((text) => {
    const value = text.startsWith('%') ? text : encodeURIComponent(text);
    const queries = [
      ...teardownAddresses(torn),
      ...['page', 'yard', 'grade', 'from', 'to', 'number', 'status'].map((name) => `/tickets?${name}=`),
      ...['page', 'yard', 'grade', 'from', 'to', 'number', 'status'].map((name) => `/manifests?${name}=`),
      ...['page', 'id', 'bin', 'from', 'to', 'device', 'text'].map((name) => `/in-weights?${name}=`),
      ...['page', 'document', 'device', 'kind', 'from', 'to', 'done'].map((name) => `/trail?${name}=`),
      ...['page', 'yard', 'from', 'to'].map((name) => `/prices/grades/1?${name}=`),
      ...['kind', 'from', 'to'].map((name) => `/bins/YB1?${name}=`),
      ...['/find?q=', '/find?q=cu&kind=', '/find?q=cu&kind=bins&page=', '/weigh-in?again=', '/prices?trail='],
      ...['yard', 'bins'].flatMap((name) => [`/manifests/new?${name}=`, `/manifests/new/bins?${name}=`]),
      ...['gross', 'tare', 'container', 'unit'].flatMap((name) => [
        `/manifests/2/lines/${ids.draftLine}/understood?${name}-${ids.draftLine}=`,
        `/weigh-in/understood?bin=CU2&gross=5&${name}=`,
      ]),
      ...['bin', 'scale', 'done', 'item'].map((name) => `/weigh-in?${name}=`),
      ...['text', 'kind', 'status', 'got', 'source', 'from', 'to', 'page', 'removed'].map((name) => `/items?${name}=`),
      ...['/items/', '/items/new?like=', '/items/1?photosPage=', '/items/1?done=', '/in-weights?item='],
      ...['photosPage', 'photosKept', 'photosKnown', 'photosOff'].map((name) => `/tickets/1?${name}=`),
      '/files/1?of=',
      ...['by', 'grade', 'yard', 'split', 'from', 'to', 'unit', 'page'].flatMap((name) => [
        `/reports/shrinkage?${name}=`,
        `/reports/realised-prices?${name}=`,
        `/export/realised-prices.csv?${name}=`,
        `/export/shrinkage.csv?${name}=`,
      ]),
      ...['yard', 'from', 'to'].map((name) => `/reports/scales?${name}=`),
      ...[...WIRE_FIELDS].flatMap((name) => [`/bench/wire?${name}=`, `${WIRE_ASKED}&${name}=`]),
      ...[...METAL_FIELDS].flatMap((name) => [`/bench/metal?${name}=`, `/bench/metal?dry=9&submerged=8&${name}=`]),
      ...['/bench/wire/kinds?page=', '/bench/wire/kinds/', '/bench/wire/kinds/1?page=', '/bench/stripping?from='],
      ...['on-hand', 'in-weights', 'loads', 'reconciliation'].map((name) => `/export/${name}.csv?unit=`),
      ...['grades', 'bins', 'containers', 'scales', 'yards', 'item-kinds'].flatMap((name) => [
        `/setup/${name}?page=`,
        `/setup/${name}?added=`,
      ]),
      ...['/prices?page=', '/prices?yard=', '/prices/board?yard=', '/prices/grades/1?on=', '/bins/YB1?before='],
      ...['/bins/YB1?before=2025-03-08.', '/import?rows=', '/import?kind=', '/tickets/new?manifest='],
      ...['/bins/', '/manifests/', '/tickets/', '/setup/yards/', '/setup/bins/', '/prices/grades/', '/export/'],
      ...[
        '/in-weights/x/',
        '/tickets/1/',
        '/setup/item-kinds/',
        '/setup/scales/',
        '/setup/scales/1?page=',
        '/setup/scales/1?checked=',
      ],
      ...['/setup/scales/1?undone=', '/setup/yards/1?scale=', '/export/scale-checks.csv?unit='],
    ];
    return queries.map((query) => query + value);
  });
  const faults: unknown[] = [];
  for (const url of addresses) {
    const { statusCode } = await get(app, url);
    if (![200, 302, 400, 404, 414, 422].includes(statusCode)) faults.push([url.slice(0, 80), statusCode]);
  }
  expect(faults).toEqual([]);
  expect(isChanged()).toBe(false);
  console.log(`${addresses.length} addresses`);
});

test('a post to something that is not there changes nothing', async () => {
  for (const { route, good } of formsOfTheApp()) {
    if (!route.includes(':')) continue;
    for (const id of ['0', NO_SUCH_ID, BEYOND_SAFE, 'NaN', '-1', '%00', LONE_SURROGATE]) {
      const { statusCode } = await send(route.replace(/:\w+/g, id), bodyOf(Object.entries(good)));
      expect([route, id, [400, 404].includes(statusCode)]).toEqual([route, id, true]);
    }
  }
  expect(isChanged()).toBe(false);
});

test('a body that no form sends is refused, and nothing of it is stored', async () => {
  const multipart = (text: string) => ({ type: 'multipart/form-data; boundary=b', text });
  const bodies = [
    { type: 'application/json', text: '{"bin":"CU2","gross":"5"}' },
    { type: 'text/plain', text: 'bin=CU2&gross=5' },
    { type: 'application/octet-stream', text: '\u0000' },
    { type: 'multipart/form-data', text: 'no boundary' },
    multipart('--b\r\ncontent-disposition: form-data; name="bin"\r\n\r\nCU2\r\n--b--\r\n'),
    multipart('--b\r\nbroken off'),
    { type: 'application/x-www-form-urlencoded', text: '%&=&&%zz=%zz&__proto__=1&constructor=2&toString' },
    { type: 'application/x-www-form-urlencoded', text: '' },
  ];
  for (const { route, url } of formsOfTheApp()) {
    for (const { type, text } of bodies) {
      const headers = { ...OWN_POST, 'content-type': type };
      const { statusCode } = await app.inject({ method: 'POST', url, headers, payload: text });
      expect([route, type, statusCode < 500]).toEqual([route, type, true]);
      if (statusCode === 303) putBack();
      expect([route, type, isChanged()]).toEqual([route, type, false]);
    }
  }
});

test('an import without a file asks for one, and keeps what was chosen', async () => {
  const part = (name: string, text: string) => `--b\r\ncontent-disposition: form-data; ${name}\r\n\r\n${text}\r\n`;
  const [[name, token] = ['', '']] = Object.entries(OWN_FIELDS);
  const kind = part(`name="${name}"`, token) + part('name="kind"', 'quotes');
  for (const payload of [`${kind}${part('name="file"; filename=""', '')}--b--\r\n`, `${kind}--b--\r\n`]) {
    const headers = { ...OWN_POST, 'content-type': 'multipart/form-data; boundary=b' };
    const { statusCode, body } = await app.inject({ method: 'POST', url: '/import', headers, payload });
    expect(statusCode).toBe(422);
    expect(body).toContain('Choose a file, or paste its text.');
    expect(shownIn(body, 'kind')).toBe('quotes');
  }
});

const weighingForm = (): Fields => formsOfTheApp().find(({ route }) => route === '/in-weights')?.good ?? {};

test('a request key of no known form is none: the form is taken all the same', async () => {
  for (const key of ['', 'short', 'x'.repeat(81), 'two words', '../../x', "'; drop table bin", '１２３４５６７８']) {
    const { statusCode } = await send('/in-weights', bodyOf(Object.entries({ ...weighingForm(), requestKey: key })));
    expect([key, statusCode]).toEqual([key, 303]);
  }
  putBack();
});

test('a figure that is there twice is not read as one with a comma in it', async () => {
  const twice = [...Object.entries({ ...weighingForm(), gross: '123' }), ['gross', '123'] as const];
  expect((await send('/in-weights', bodyOf(twice))).statusCode).toBe(422);
  expect(isChanged()).toBe(false);
});

// Figures that may each be right, and cannot be right together.

const PAGES = ['/', '/prices', '/manifests/2', '/manifests/new?yard=1', '/export/on-hand.csv', '/weigh-in', '/reports'];
const statusOf = async (url: string) => (await get(app, url)).statusCode;

/** Writes down that copper is a million a gram: a slip of the unit. */
async function quoteTooMuch(): Promise<void> {
  const copper = gradeId(ledger, 'No. 2 copper');
  const board = {
    yard: String(ids.yard),
    seenOn: TODAY,
    [`price-${copper}`]: '1000000',
    [`per-${copper}`]: 'g',
    confirm: '1',
  };
  expect((await send('/prices/boards', bodyOf(Object.entries(board)))).statusCode).toBe(303);
}

test('a price far too high fails no page, and nothing is loaded at it', async () => {
  await quoteTooMuch();
  for (const url of PAGES) expect([url, await statusOf(url)]).toEqual([url, 200]);
  expect((await get(app, '/')).body).toContain('check its price');
  const loading = { [`gross-${ids.draftLine}`]: '200000', loadedOn: TODAY, bookShortfall: '1', confirm: '1' };
  const { statusCode, body } = await send('/manifests/2/loading', bodyOf(Object.entries(loading)));
  expect([statusCode, body.includes('1000000 per g is more than can be right')]).toEqual([422, true]);
  expect(shownIn(body, `gross-${ids.draftLine}`)).toBe('200000');
  expect(loadsOf(ledger.db, 2).map(({ mass_ug, price }) => [mass_ug, price])).toEqual([[null, null]]);
  expect(broken()).toEqual([]);
  putBack();
});

test('weights and prices of a ticket that come to more than can be right are refused beside the price', async () => {
  const ticket = formsOfTheApp().find(({ route }) => route === '/tickets')?.good ?? {};
  const slips: Fields[] = [
    { 'gross-1': '200000', 'net-1': '200000', 'deduction-1': '', 'price-1': '1000000', 'per-1': 'g', 'amount-1': '' },
    { 'gross-1': '200000', 'net-1': '0.001', 'deduction-1': '', 'price-1': '1000000', 'per-1': 'g' },
    { 'gross-1': '1', 'net-1': '200000', 'deduction-1': '', 'price-1': '999999' },
  ];
  for (const slip of slips) {
    for (const url of ['/tickets', '/tickets/check']) {
      const { statusCode, body } = await send(url, bodyOf(Object.entries({ ...ticket, ...slip })));
      expect([statusCode, linksOf(body)]).toEqual([422, ['f-price-1']]);
    }
    expect((await send('/tickets/audit', bodyOf(Object.entries({ ...ticket, ...slip })))).statusCode).toBe(200);
  }
  expect(isChanged()).toBe(false);
});

test('a ticket whose differences cannot be reckoned is refused whole, with everything typed', async () => {
  await quoteTooMuch();
  const load = { [`gross-${ids.draftLine}`]: '1', [`unit-${ids.draftLine}`]: 'g', loadedOn: TODAY };
  expect((await send('/manifests/2/loading', bodyOf(Object.entries(load)))).statusCode).toBe(303);
  const before = ledger.db.sqlite.serialize();
  const ticket = formsOfTheApp().find(({ route }) => route === '/tickets')?.good ?? {};
  const line = { 'loads-1': 'A', 'gross-1': '200000', 'net-1': '200000', 'deduction-1': '', 'price-1': '0.01' };
  const typed = { ...ticket, ...line, manifest: '2', 'amount-1': '2000', total: '2000' };
  const { statusCode, body } = await send('/tickets', bodyOf(Object.entries(typed)));
  expect([statusCode, body.includes('Together these figures are larger than can be right.')]).toEqual([422, true]);
  expect(shownIn(body, 'gross-1')).toBe('200000');
  expect(ledger.db.sqlite.serialize().equals(before)).toBe(true);
  putBack();
});

test('a bin is not filled beyond a thousand tonnes, so that all bins can be added up', async () => {
  const answers: number[] = [];
  for (let count = 0; count < 11; count += 1) {
    const weighing = { ...weighingForm(), bin: 'EMPTY', gross: '100', container: '', unit: 'tonne' };
    answers.push((await send('/in-weights', bodyOf(Object.entries(weighing)))).statusCode);
  }
  expect(answers).toEqual([...Array(10).fill(303), 422]);
  for (const url of PAGES) expect([url, await statusOf(url)]).toEqual([url, 200]);
  expect(broken()).toEqual([]);
  putBack();
});

test('a file whose figures are too large together is refused at their line', async () => {
  const loads = 'yard,manifest,loaded_on,load,bin,net,unit,quoted_price,quoted_per\n';
  const lines = 'yard,ticket,manifest,sold_on,line,loads,paid_as,gross,tare,deduction,net,unit,price,per,amount\n';
  const files: [kind: string, text: string, sentence: string][] = [
    ['loads', `${loads}Demo Yard North,Z1,2025-03-10,A,YB1,90,tonne,1000000,g\n`, 'is more than can be right'],
    [
      'ticket-lines',
      `${lines}Demo Yard North,9,W1,2025-03-10,1,B,Yellow brass,90,0,0,90,tonne,1000000,g,\n`,
      '<b>line 2, price:</b> Weight times price is too large',
    ],
  ];
  for (const [kind, text, sentence] of files) {
    const { statusCode, body } = await send('/import', bodyOf(Object.entries({ kind, text })));
    expect([kind, statusCode, body.includes(sentence), body.includes('<b>line 2')]).toEqual([kind, 422, true, true]);
    expect(shownIn(body, 'text')).toBe(text);
  }
  expect(isChanged()).toBe(false);
});

// The slips that the issue names, each on the form where it happens; tests/domain/files.test.ts has them for files.

const issue: [what: string, route: string, change: Fields, field: string, sentence: string][] = [
  [
    'a tare above the gross',
    '/in-weights',
    { gross: '5', tare: '6', container: '' },
    'gross',
    'is not below the reading',
  ],
  ['a tare above the gross', '/manifests/:id/weights', { 'gross-L': '5', 'tare-L': '6' }, 'gross-L', 'is not below'],
  ['a tare above the gross', '/tickets', { 'tare-1': '60' }, 'tare-1', 'is more than the gross'],
  ['a load above the bin', '/manifests/:id/loading', { 'gross-L': '500', 'empties-L': '' }, 'gross-L', 'by the book'],
  ['a ticket for another yard’s manifest', '/tickets', { yard: '2' }, 'manifest', 'was loaded for Demo Yard North'],
  ['a day that does not exist', '/in-weights', { occurredOn: '2025-02-30' }, 'occurredOn', 'Feb 2025 has 28 days'],
  ['a day that does not exist', '/tickets', { soldOn: '2025-02-30' }, 'soldOn', 'Feb 2025 has 28 days'],
  [
    'a line that pays for a load of another manifest',
    '/tickets',
    { 'loads-1': 'Q' },
    'loads-1',
    'is not on this manifest',
  ],
  ['a line that pays for a load of another ticket', '/tickets', { 'loads-1': 'A' }, 'loads-1', 'already paid for'],
  ['a unit that is not one', '/in-weights', { unit: 'stone' }, 'unit', 'Choose a unit of weight'],
  ['a unit that is not one', '/in-weights', { gross: '12 parsecs' }, 'gross', 'is not a unit of weight here'],
  ['a unit that is not one', '/tickets', { 'unit-1': 'stone' }, 'unit-1', 'Choose a unit'],
  ['no number', '/in-weights', { gross: 'NaN' }, 'gross', 'has to be a number'],
  ['no number', '/in-weights', { gross: '1e309' }, 'gross', 'has to be a number'],
  ['a negative weight', '/in-weights', { gross: '-5' }, 'gross', 'cannot be negative'],
  ['groups that are none', '/in-weights', { gross: '1,2,3' }, 'gross', 'more than one way'],
  ['full-width digits', '/in-weights', { gross: '１２' }, 'gross', 'Use the plain digits 0 to 9'],
  ['nothing', '/in-weights', { gross: '' }, 'gross', 'Enter a reading'],
  ['ten thousand characters', '/in-weights', { gross: '9'.repeat(10_000) }, 'gross', 'is too long'],
  ['ten thousand characters', '/in-weights', { note: LONG }, 'note', 'At most 2000 characters'],
];

test.each(issue)('%s on %s is refused beside its field', async (_what, route, change, field, sentence) => {
  const ofLoad = (name: string) => name.replace(/-L$/, `-${ids.draftLine}`);
  const form = formsOfTheApp().find((each) => each.route === route);
  const changes = Object.entries(change).map(([name, text]): [string, string] => [ofLoad(name), text]);
  const typed = { ...form?.good, ...Object.fromEntries(changes) };
  const { statusCode, body } = await send(form?.url ?? '', bodyOf(Object.entries(typed)));
  const beside = new RegExp(`id="f-${ofLoad(field)}-problem">([^<]*)`).exec(body)?.[1] ?? '';
  expect([statusCode, isChanged()]).toEqual([422, false]);
  expect(beside).toContain(sentence);
});

test('two tickets with one number are asked about before the second is saved, and do not block it', async () => {
  const ticket = formsOfTheApp().find(({ route }) => route === '/tickets')?.good ?? {};
  const { statusCode, body } = await send('/tickets/check', bodyOf(Object.entries({ ...ticket, number: '70011' })));
  expect([statusCode, body.includes('Ticket 70011 of this yard was entered before.')]).toEqual([200, true]);
});
