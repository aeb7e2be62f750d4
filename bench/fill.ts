import { createHash } from 'node:crypto';
import { Chance } from '../seed/demo/random.ts';
import { starterGrades } from '../seed/grades.ts';
import { fixedClock } from '../server/clock.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import type { Db } from '../server/db/database.ts';
import { type InWeightInput, recordInWeight } from '../server/ledger/acts.ts';
import { draftManifest } from '../server/manifests/acts.ts';
import { loadManifest } from '../server/manifests/loading.ts';
import { type Load, loadsOf } from '../server/manifests/queries.ts';
import { amountMinor, NO_MONEY } from '../server/money/money.ts';
import { recordPriceBoard } from '../server/prices/acts.ts';
import { addBin, addGrades, saveScale, saveYard } from '../server/setup/acts.ts';
import { listGrades } from '../server/setup/queries.ts';
import { defaultSettings } from '../server/setup/settings.ts';
import { recordTicket, totalsOfLines } from '../server/tickets/acts.ts';
import { completeLine, type PrintedLine } from '../server/tickets/compute.ts';
import { asPart, once } from '../server/trail.ts';
import { type Day, day } from '../server/units/day.ts';
import { Decimal } from '../server/units/decimal.ts';
import { massUg, NO_MASS, toMassUg, toWeight } from '../server/units/mass.ts';
import { writeForFile } from '../server/units/write-weight.ts';

/** Ten years of a household that takes a lot apart. */
export const USUAL_YEARS = { inWeights: 20_000, tickets: 300, ticketLines: 2_500, bins: 40, yards: 2 } as const;

const FIRST_DAY = Date.parse('2016-01-02T00:00:00Z');
const DAYS = 3_652;
const DAYS_BETWEEN_BOARDS = 14;
const KINDS = 20;
export const benchToday: Day = day('2025-12-31');

const dayNumber = (index: number): Day => day(new Date(FIRST_DAY + index * 86_400_000).toISOString().slice(0, 10));

/** What filling a ledger needs to remember. */
export interface Filling {
  db: Db;
  chance: Chance;
  binIds: number[];
  yardIds: number[];
  /** The grades that bins have, with a price each. */
  priced: { gradeId: number; price: Decimal }[];
  scaleId: number;
  kindIds: number[];
  /** The next bin that something is weighed into, and the next one that is sold. */
  turn: { weighIn: number; sell: number };
}

/** The grades, bins, yards and the scale: the same rows with the same ids in every ledger of the bench. */
export function setUp(db: Db): Filling {
  // Without lines in the trail: theirs would have ids that the copied ones take.
  const ledger = asPart(openLedger(db, fixedClock(dayNumber(0))));
  addGrades(
    ledger,
    starterGrades.map(({ quotedPer, spoiledBy, ...grade }) => ({
      ...grade,
      quoted_per: quotedPer,
      spoiled_by: spoiledBy,
    })),
  );
  const grades = listGrades(db)
    .filter((grade) => grade.quoted_per === 'lb')
    .slice(0, USUAL_YEARS.bins / 2);
  const bin = { place: '', container_id: null, full_mark_typed: '', full_mark_ug: null, opened_on: dayNumber(0) };
  const binIds = Array.from({ length: USUAL_YEARS.bins }, (_, index) =>
    addBin(ledger, {
      ...bin,
      code: `B${index + 1}`,
      grade_id: grades[index % grades.length]?.id ?? 0,
      closed_on: null,
    }),
  );
  const yard = { unit: 'lb', scale_division: '0.5', scale_class: 'III', notes: '' } as const;
  const yardIds = Array.from({ length: USUAL_YEARS.yards }, (_, index) =>
    saveYard(ledger, null, { ...yard, name: `Bench Yard ${index + 1}`, cash_step_minor: amountMinor(5) }),
  );
  const scale = {
    name: 'Bench scale',
    division: '0.05',
    unit: 'lb',
    class: '',
    tolerance: '0.1',
    capacity: '',
  } as const;
  const priced = grades.map((grade, index) => ({ gradeId: grade.id, price: new Decimal(index + 1).div(4) }));
  const rest = { chance: new Chance(2_016), turn: { weighIn: 0, sell: 0 }, kindIds: addKinds(db) };
  return { db, binIds, yardIds, priced, scaleId: saveScale(ledger, null, scale), ...rest };
}

const addKinds = (db: Db): number[] =>
  Array.from({ length: KINDS }, (_, index) => {
    const kind = { name: `Bench kind ${index + 1}`, cautions: '', as_is_grade_id: null, rule_minutes: '', note: '' };
    return db.insert('item_kind', kind);
  });

/** An item that was picked up that day, taken apart in half an hour. */
function pickUp({ db, kindIds, turn }: Filling, on: Day): number {
  const itemId = db.insert('item', {
    ...{ item_kind_id: kindIds[turn.weighIn % KINDS] ?? 0, name: '', picked_up_on: on, got: 'found', source: '' },
    ...{
      proof: '',
      cost_minor: NO_MONEY,
      weight_typed: '50',
      weight_unit: 'lb',
      note: '',
      recorded_at: `${on}T12:00:00Z`,
    },
    ...{ weight_ug: toMassUg({ amount: new Decimal(50), unit: 'lb' }), disposal_minor: NO_MONEY },
    ...{ status: 'taken apart', depth: 'fine', closed_on: on },
  });
  db.insert('work', { item_id: itemId, worked_on: on, seconds: 1800, recorded_at: `${on}T12:00:00Z` });
  return itemId;
}

/** A key as a form makes it, the time first, but the same at every start. */
const requestKey = (turn: number): string =>
  `${String(turn).padStart(9, '0')}-${createHash('sha256').update(String(turn)).digest('hex').slice(0, 36)}`;

/** A weighing as the bench form posts it, read and ready to be entered. */
export interface Weighing {
  requestKey: string;
  input: InWeightInput;
}

/** Something weighed into the next bin in turn. */
export function nextWeighing(
  { binIds, turn, chance, scaleId }: Filling,
  on: Day,
  itemId: number | null = null,
): Weighing {
  const grossTyped = writeForFile(chance.between('1', '30').toDecimalPlaces(1), 1);
  turn.weighIn += 1;
  const input: InWeightInput = {
    binId: binIds[turn.weighIn % binIds.length] ?? 0,
    scaleId,
    containerId: null,
    grossTyped,
    tareTyped: '0',
    unit: 'lb',
    grossUg: toMassUg({ amount: new Decimal(grossTyped), unit: 'lb' }),
    tareUg: NO_MASS,
    occurredOn: on,
    isEstimate: false,
    note: '',
    itemId,
  };
  return { requestKey: requestKey(turn.weighIn), input };
}

/** Enters a weighing the way the server does: once for its key, with the note that it was done. */
export const enter = (ledger: Ledger, { requestKey: key, input }: Weighing): string =>
  once(ledger, key, () => `/weigh-in?last=${recordInWeight(ledger, input)}`);

function writeBoards(filling: Filling, ledger: Ledger, on: Day): void {
  for (const yardId of filling.yardIds) {
    const quotes = filling.priced.map(({ gradeId, price }) => ({
      yardId,
      gradeId,
      price: writeForFile(price.times(filling.chance.between('0.9', '1.1')).toDecimalPlaces(2), 2),
      per: 'lb' as const,
      seenOn: on,
      seenWhere: '',
    }));
    recordPriceBoard(ledger, quotes);
  }
}

/** A yard's line for a load: a little lighter than at home, on every fifth line with something taken off. */
export function printLine(filling: Filling, load: Load, index: number): PrintedLine {
  const pounds = toWeight(massUg(load.mass_ug ?? 0), 'lb').amount.times(filling.chance.between('0.98', '1'));
  const completed = completeLine(
    {
      lineNo: index + 1,
      description: '',
      gradeId: load.grade_id,
      loadIds: [load.id],
      gross: writeForFile(pounds.toDecimalPlaces(1), 1),
      tare: '0.0',
      deduction: index % 5 === 0 ? '0.5' : '0',
      net: '',
      unit: 'lb',
      price: load.price ?? '1.00',
      per: 'lb',
      amountMinor: null,
    },
    defaultSettings.currency,
  );
  if (!completed.ok) throw new Error(completed.refusal);
  return completed.value.line;
}

/** One manifest of the next bins in turn, and its ticket. */
function sell(
  filling: Filling,
  ledger: Ledger,
  on: Day,
  { ticketNo, lines }: { ticketNo: number; lines: number },
): void {
  const { binIds, turn, yardIds } = filling;
  const number = String(ticketNo);
  const yardId = yardIds[ticketNo % yardIds.length] ?? 0;
  const chosen = Array.from({ length: lines }, (_, index) => binIds[(turn.sell + index) % binIds.length] ?? 0);
  turn.sell += lines;
  const manifestId = draftManifest(ledger, { yardId, binIds: chosen, note: '', number });
  loadManifest(ledger, manifestId, on, true);
  const printed = loadsOf(filling.db, manifestId).map((load, index) => printLine(filling, load, index));
  recordTicket(ledger, {
    yardId,
    manifestId,
    number,
    soldOn: on,
    note: '',
    lines: printed,
    totals: totalsOfLines(printed),
  });
}

/** How much of a whole has happened by the end of a day, spread evenly. */
const dueBy = (dayIndex: number, whole: number): number => Math.floor(((dayIndex + 1) * whole) / DAYS);

/** Fills an empty ledger with ten years by the same acts as a person's, so that it is a ledger that could be. */
export function fillYears(db: Db): Filling {
  return db.transaction(() => {
    const filling = setUp(db);
    const { inWeights, tickets, ticketLines } = USUAL_YEARS;
    const done = { inWeights: 0, tickets: 0, lines: 0 };
    let itemId: number | null = null;
    for (let dayIndex = 0; dayIndex < DAYS; dayIndex += 1) {
      const on = dayNumber(dayIndex);
      const ledger = openLedger(db, fixedClock(on));
      if (dayIndex % DAYS_BETWEEN_BOARDS === 0) writeBoards(filling, ledger, on);
      for (; done.inWeights < dueBy(dayIndex, inWeights); done.inWeights += 1) {
        // Every fourth weighing is of an item, four of each.
        const isOfItem = done.inWeights % 4 === 0;
        if (done.inWeights % 16 === 0) itemId = pickUp(filling, on);
        enter(ledger, nextWeighing(filling, on, isOfItem ? itemId : null));
      }
      for (; done.tickets < dueBy(dayIndex, tickets); done.tickets += 1) {
        const upTo = Math.floor(((done.tickets + 1) * ticketLines) / tickets);
        sell(filling, ledger, on, { ticketNo: done.tickets + 1, lines: upTo - done.lines });
        done.lines = upTo;
      }
    }
    return filling;
  });
}
