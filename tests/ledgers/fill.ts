import { demoToday, fillDemo } from '../../seed/demo.ts';
import { letIn, nameDevice, noteHomeAddress, setFirstPassphrase, signOut } from '../../server/access/acts.ts';
import { captionAttachment, keepFiles, takeOff } from '../../server/attachments/acts.ts';
import { Aside } from '../../server/attachments/aside.ts';
import { readSentFile } from '../../server/attachments/forms.ts';
import { recordSample, saveWireKind, undoSample } from '../../server/bench/acts.ts';
import { recordStripping } from '../../server/bench/stripping.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { closeItem, type ItemInput, pickUp, reopenItem } from '../../server/items/acts.ts';
import { saveItemKind } from '../../server/items/kind-acts.ts';
import { recordPartSale, undoPartSale } from '../../server/items/part-sale-acts.ts';
import { finishTeardown, recordOutputs, undoOutput } from '../../server/items/teardown-acts.ts';
import { binOutputs, outputsOfItem } from '../../server/items/teardown-queries.ts';
import { recordWork, startWork, stopWork, undoWork } from '../../server/items/work-acts.ts';
import {
  correctInWeight,
  type InWeightInput,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoBinDocument,
  undoInWeight,
} from '../../server/ledger/acts.ts';
import { draftManifest, setDraftAside } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor, NO_MONEY } from '../../server/money/money.ts';
import { letQuoteStandAgain, recordQuote, takeQuoteBack } from '../../server/prices/acts.ts';
import { recordCheck, undoCheck } from '../../server/scales/acts.ts';
import {
  addBin,
  changeSettings,
  saveContainer,
  saveGrade,
  saveScale,
  saveYard,
  saveYardScale,
} from '../../server/setup/acts.ts';
import {
  recordTicket,
  replaceTicket,
  returnLoad,
  returnManifest,
  type TicketInput,
  undoLoadReturn,
} from '../../server/tickets/acts.ts';
import { letTicketStandAgain, takeTicketBack } from '../../server/tickets/take-back.ts';
import { once } from '../../server/trail.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { HOSTILE } from '../hostile.ts';
import { phonePhoto, somePdf } from '../pictures.ts';

// What stands in a ledger of the repository beside the demo: every document in every state that it can have, and words
// that somebody could type. In the order of the formats, so that an older one took all but the last parts.

const TODAY = demoToday;
const GRAMS = 1_000_000;

/** The demo's fourteen months, and everything that they leave out. */
export async function fillWhole(db: Db): Promise<void> {
  fillDemo(db);
  const ledger = openLedger(db, fixedClock(TODAY), HOSTILE[0]);
  const hostile = fillHostile(ledger);
  fillScales(ledger, hostile);
  fillAccess(ledger);
  await fillPhotos(ledger);
  fillTakeBacks(ledger, hostile);
  fillWire(ledger);
  await keepItemPhoto(ledger, fillItems(ledger, hostile.binIds));
}

interface Hostile {
  yardId: number;
  scaleId: number;
  binIds: number[];
}

const grams = (binId: number, weight: number, note: string): InWeightInput => ({
  binId,
  scaleId: null,
  containerId: null,
  grossTyped: String(weight),
  tareTyped: '0',
  unit: 'g',
  grossUg: massUg(weight * GRAMS),
  tareUg: massUg(0),
  occurredOn: TODAY,
  isEstimate: false,
  note,
});

/** Format 1: bins of hostile names, and documents in every state. */
function fillHostile(ledger: Ledger): Hostile {
  const [name] = HOSTILE;
  changeSettings(ledger, { ...ledger.settings, staleQuoteDays: 21 });
  once(ledger, 'a form that was sent', () => '/weigh-in', 'everything that was in it');
  const yardId = saveYard(ledger, null, {
    name: `Demo Yard ${name}`,
    unit: 'kg',
    cash_step_minor: amountMinor(5),
    scale_division: '0.5',
    scale_class: 'III',
    notes: HOSTILE.join('\n'),
  });
  const scale = { name: HOSTILE[2], unit: 'kg', division: '0.01', class: '', tolerance: '0.02', capacity: '' } as const;
  const scaleId = saveScale(ledger, null, scale);
  saveContainer(ledger, null, { name: HOSTILE[3], tare_typed: '1.2', tare_ug: massUg(1_200_000_000) });
  const binIds = HOSTILE.map((word) => hostileBin(ledger, word));
  binIds.forEach((binId, at) => {
    recordInWeight(ledger, { ...grams(binId, 1000 + at, HOSTILE[at] ?? ''), scaleId });
  });
  for (const gradeId of [1, 2]) {
    recordQuote(ledger, { yardId, gradeId, price: '3.333333', per: 'kg', seenOn: TODAY, seenWhere: HOSTILE[4] });
  }
  fillBins(ledger, binIds);
  fillManifests(ledger, yardId, binIds);
  return { yardId, scaleId, binIds };
}

function hostileBin(ledger: Ledger, word: string): number {
  const gradeId = saveGrade(ledger, null, {
    name: word,
    family: 'copper',
    quoted_per: 'kg',
    code: '',
    falls_back_to_id: null,
    recognise: word,
    spoiled_by: word,
  });
  const bin = {
    code: word,
    grade_id: gradeId,
    place: word,
    container_id: null,
    full_mark_typed: '',
    full_mark_ug: null,
  };
  return addBin(ledger, { ...bin, opened_on: TODAY, closed_on: null });
}

/** Weighings taken back, also after their material left, and corrected; recounts and moves, and some of them undone. */
function fillBins(ledger: Ledger, [first = 0, second = 0, third = 0]: number[]): void {
  const typed = { netTyped: '900', unit: 'g', occurredOn: TODAY } as const;
  const inWeight = recordInWeight(ledger, { ...grams(first, 250, 'estimated'), isEstimate: true });
  correctInWeight(ledger, inWeight, grams(first, 251, HOSTILE[5]), HOSTILE[6], false);
  undoInWeight(ledger, recordInWeight(ledger, grams(second, 77, HOSTILE[1])), false);
  const gone = recordInWeight(ledger, grams(third, 5000, ''));
  const move = { fromBinId: third, toBinId: second, netUg: massUg(6000 * GRAMS), note: HOSTILE[7], ...typed };
  recordBinTransfer(ledger, { ...move, netTyped: '6000', bookShortfall: false });
  undoInWeight(ledger, gone, true);
  const back = recordBinTransfer(ledger, { ...move, fromBinId: second, toBinId: first, bookShortfall: true });
  undoBinDocument(ledger, 'bin_transfer', back);
  recordRecount(ledger, { binId: first, netUg: massUg(900 * GRAMS), note: HOSTILE[8], ...typed });
  const wrong = recordRecount(ledger, { binId: second, netUg: massUg(901 * GRAMS), note: '', ...typed });
  undoBinDocument(ledger, 'recount', wrong);
}

/** A draft, one set aside, one loaded, one returned, and sold ones: replaced, without totals, with a load on no ticket. */
function fillManifests(ledger: Ledger, yardId: number, binIds: number[]): void {
  const draft = (from: number, count: number, note: string): number =>
    draftManifest(ledger, { yardId, binIds: binIds.slice(from, from + count), note });
  const loaded = (from: number, count: number, note = ''): number => {
    const id = draft(from, count, note);
    loadManifest(ledger, id, TODAY, true);
    return id;
  };
  draft(0, 3, HOSTILE[9]);
  setDraftAside(ledger, draft(0, 2, HOSTILE[10]));
  loaded(4, 2, HOSTILE[11]);
  returnManifest(ledger, loaded(6, 2), TODAY, HOSTILE[12]);
  const sold = loaded(8, 3);
  const [, , third] = loadsOf(ledger.db, sold);
  const wrong = recordTicket(ledger, ticketOf(ledger, yardId, sold, { number: HOSTILE[13], loads: 2 }));
  replaceTicket(ledger, wrong, ticketOf(ledger, yardId, sold, { number: HOSTILE[15], loads: 2 }), HOSTILE[14]);
  returnLoad(ledger, third?.id ?? 0, TODAY, HOSTILE[16]);
  undoLoadReturn(ledger, third?.id ?? 0);
  const linesOnly = loaded(11, 2);
  recordTicket(ledger, { ...ticketOf(ledger, yardId, linesOnly, { number: HOSTILE[10], loads: 1 }), totals: null });
}

/** A ticket over the first loads of a manifest, a line for each, with a deduction and a slip of arithmetic. */
function ticketOf(
  { db }: Ledger,
  yardId: number,
  manifestId: number,
  { number, loads }: { number: string; loads: number },
): TicketInput {
  const lines = loadsOf(db, manifestId)
    .slice(0, loads)
    .map((load, at) => ({
      lineNo: at + 1,
      description: HOSTILE[at] ?? '',
      gradeId: at === 0 ? load.grade_id : 1,
      loadIds: [load.id],
      ...{ gross: '1.5', tare: '0.5', deduction: '0.05', net: '0.95', price: '7.77' },
      ...({ unit: 'kg', per: 'kg' } as const),
      amountMinor: amountMinor(739),
    }));
  const foot = { chargesMinor: amountMinor(125), taxMinor: amountMinor(-31), cashRoundingMinor: amountMinor(-2) };
  const totals = { ...foot, totalMinor: amountMinor(lines.length * 739 - 125 - 31 - 2), paidBy: 'cheque' } as const;
  return { yardId, manifestId, number, soldOn: TODAY, note: HOSTILE.join('\n'), lines, totals };
}

/** Format 2: checks of a scale, one of them taken back, and a further scale of the yard. */
function fillScales(ledger: Ledger, { scaleId, yardId }: Hostile): void {
  const weights = { weightTyped: '5', readingTyped: '5.02', unit: 'kg' } as const;
  const mass = { weightUg: massUg(5000 * GRAMS), readingUg: massUg(5020 * GRAMS) };
  const check = { scaleId, checkedOn: TODAY, isAdjusted: false, note: HOSTILE[5], ...weights, ...mass };
  recordCheck(ledger, check);
  undoCheck(ledger, recordCheck(ledger, { ...check, isAdjusted: true }));
  saveYardScale(ledger, yardId, null, { name: HOSTILE[4], division: '20 lb', class: 'III L', families: ['ferrous'] });
}

/** Format 3: a passphrase, devices that come and go, an address at home that changed. */
function fillAccess(ledger: Ledger): void {
  setFirstPassphrase(ledger, 'scrypt$AAAA$AAAA');
  const phone = letIn(ledger, HOSTILE[13], 'passphrase');
  nameDevice(ledger, phone.id, HOSTILE[14]);
  signOut(ledger, letIn(ledger, HOSTILE[15], 'pairing').id);
  noteHomeAddress(ledger, 'http://192.168.7.20:4870');
  noteHomeAddress(ledger, 'http://192.168.7.21:4870');
}

/** Format 4: a photo and a paper, one with another caption, one taken off. */
async function fillPhotos(ledger: Ledger): Promise<void> {
  const aside = new Aside();
  const photo = await readSentFile({ name: HOSTILE[13], bytes: await phonePhoto(160, 120) }, aside);
  const paper = await readSentFile({ name: 'paper.pdf', bytes: somePdf() }, aside);
  keepFiles(ledger, { kind: 'ticket', ids: [6] }, [photo], HOSTILE[0]);
  keepFiles(ledger, { kind: 'bin', ids: [1] }, [photo, paper], '');
  aside.close();
  captionAttachment(ledger, 1, HOSTILE[1]);
  takeOff(ledger, 3);
}

/** Format 5: a price and a ticket taken back, and others that count again. */
function fillTakeBacks(ledger: Ledger, { yardId }: Hostile): void {
  const quote = { yardId, gradeId: 1, per: 'lb', seenOn: TODAY, seenWhere: '' } as const;
  takeQuoteBack(ledger, recordQuote(ledger, { ...quote, price: '99.99' }));
  const again = recordQuote(ledger, { ...quote, price: '3.50' });
  takeQuoteBack(ledger, again);
  letQuoteStandAgain(ledger, again);
  takeTicketBack(ledger, 5, HOSTILE[12]);
  takeTicketBack(ledger, 7, HOSTILE[13]);
  letTicketStandAgain(ledger, 7);
}

/** Format 10: a kind of wire, samples, one of them taken back, and a stripped lot that was taken back with its sample. */
function fillWire(ledger: Ledger): void {
  const own = { grade_id: 7, bare_grade_id: 1, note: HOSTILE[3] ?? '' };
  const wireKindId = saveWireKind(ledger, null, { name: HOSTILE[2] ?? 'wire', ...own });
  const weights = { beforeTyped: '100', afterTyped: '41', unit: 'g', seconds: 90 } as const;
  const stripped = { ...weights, beforeUg: massUg(100 * GRAMS), afterUg: massUg(41 * GRAMS), note: HOSTILE[4] ?? '' };
  const sample = { ...stripped, wireKindId, sampledOn: TODAY, strippingId: null };
  recordSample(ledger, sample);
  undoSample(ledger, recordSample(ledger, sample));
  const bins = { fromBinId: 1, toBinId: 5, occurredOn: TODAY, bookShortfall: true, sampleOf: wireKindId };
  undoBinDocument(ledger, 'stripping', recordStripping(ledger, { ...stripped, ...bins }));
}

/**
 * Format 11: a kind, an item of it in every state, what was taken back of each, and a time that is running. The layers
 * follow by themselves. @returns ids of the items
 */
export function fillItems(ledger: Ledger, [first = 0, second = 0]: readonly number[]): number[] {
  const kindId = saveItemKind(ledger, null, {
    name: HOSTILE[1] ?? '',
    cautions: 'mercury,lithium',
    as_is_grade_id: 1,
    rule_minutes: '45',
    note: HOSTILE[2] ?? '',
    yields: [{ grade_id: 1, percent: '12.5' }],
  });
  const words = { source: HOSTILE[3] ?? '', proof: HOSTILE[4] ?? '', note: HOSTILE[5] ?? '' };
  const weight = { typed: '1.5 kg', weight: { amount: new Decimal('1.5'), unit: 'kg' }, massUg: massUg(1500 * GRAMS) };
  const input = { kindId, pickedUpOn: TODAY, got: 'bought', costMinor: amountMinor(250), ...words } as const;
  const add = (more: Partial<ItemInput>, at: number): number =>
    pickUp(ledger, { ...input, name: HOSTILE[at] ?? '', weight: weight as ItemInput['weight'], ...more });
  const [running, apart, asIs, whole] = [add({}, 6), add({ got: 'given' }, 7), add({ got: 'found' }, 8), add({}, 9)];
  const [discarded, again] = [add({ weight: null }, 10), add({}, 11)];
  startWork(ledger, running);
  fillTeardown(ledger, apart, first);
  recordInWeight(ledger, { ...grams(second, 1500, ''), itemId: asIs });
  closeItem(ledger, asIs, { status: 'as is', depth: '', closedOn: TODAY, disposalMinor: NO_MONEY });
  const sale = { itemId: whole, outputId: null, listedOn: TODAY, soldOn: TODAY, note: HOSTILE[12] ?? '', ...PRICE };
  undoPartSale(ledger, recordPartSale(ledger, sale));
  recordPartSale(ledger, sale);
  const thrownAway = { status: 'discarded', depth: '', closedOn: TODAY, disposalMinor: amountMinor(500) } as const;
  closeItem(ledger, discarded, thrownAway);
  closeItem(ledger, again, thrownAway);
  reopenItem(ledger, again);
  return [running, apart, asIs, whole, discarded, again];
}

const PRICE = { priceMinor: amountMinor(1234), feesMinor: amountMinor(56), postageMinor: amountMinor(78) } as const;

/** Minutes, weighings, waste and parts of an item: those that stand, and those that were put right or taken back. */
function fillTeardown(ledger: Ledger, itemId: number, binId: number): void {
  startWork(ledger, itemId);
  stopWork(ledger, itemId, null, 'paused');
  const worked = { typed: '1:15', seconds: 4500, workedOn: TODAY, note: HOSTILE[13] ?? '' };
  recordWork(ledger, itemId, worked);
  undoWork(ledger, recordWork(ledger, itemId, worked));
  const weighings = [200, 300, 400].map((weight, row) => ({ row, input: grams(binId, weight, HOSTILE[14] ?? '') }));
  const part = { kind: 'part', name: HOSTILE[15] ?? '', netTyped: '', netUg: null } as const;
  const waste = { kind: 'waste', name: '', netTyped: '100', netUg: massUg(100 * GRAMS) } as const;
  recordOutputs(ledger, itemId, { occurredOn: TODAY, unit: 'g', weighings, others: [waste, part, part, waste] });
  const [again, spare, sold] = outputsOfItem(ledger.db, itemId);
  undoOutput(ledger, again?.id ?? 0);
  const sale = { itemId, listedOn: null, soldOn: TODAY, note: '', ...PRICE };
  recordPartSale(ledger, { ...sale, outputId: sold?.id ?? 0 });
  undoPartSale(ledger, recordPartSale(ledger, { ...sale, outputId: spare?.id ?? 0 }));
  const [undone = 0, corrected = 0] = binOutputs(ledger.db, itemId).map(({ id }) => id);
  undoInWeight(ledger, undone, true);
  correctInWeight(ledger, corrected, { ...grams(binId, 301, ''), itemId }, HOSTILE[16] ?? '', true);
  finishTeardown(ledger, itemId, { depth: 'fine', closedOn: TODAY, disposalMinor: NO_MONEY });
}

/** A photo of what was picked up. */
async function keepItemPhoto(ledger: Ledger, [first = 0, second = 0]: readonly number[]): Promise<void> {
  const aside = new Aside();
  const photo = await readSentFile({ name: HOSTILE[14] ?? '', bytes: await phonePhoto(120, 160) }, aside);
  keepFiles(ledger, { kind: 'item', ids: [first, second] }, [photo], HOSTILE[2] ?? '');
  aside.close();
}
