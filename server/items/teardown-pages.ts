import type { PartSalesParts } from '../../views/items/part-sales.ts';
import type { TeardownParts, TeardownSummary } from '../../views/items/teardown.ts';
import type { TimeParts } from '../../views/items/time.ts';
import type { Ledger } from '../context.ts';
import { AS_USUAL } from '../ledger/forms.ts';
import { listBinsOnHand } from '../ledger/queries.ts';
import { writeMoneyForFile } from '../money/money.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { listContainers, listGrades, listScales } from '../setup/queries.ts';
import { idIn } from '../web.ts';
import { type Caution, cautionsOfKind } from './cautions.ts';
import { isGoneWhole } from './compute.ts';
import { findItemKind } from './kind-queries.ts';
import { secondsBetween } from './minutes.ts';
import { WHOLE } from './part-sale-forms.ts';
import { findPartSale, partSalesOfItem } from './part-sale-queries.ts';
import type { ItemOfKind } from './queries.ts';
import { balanceOfItem, binOutputs, findOutput, type ItemOutput, outputsOfItem } from './teardown-queries.ts';
import { findClock, findWork, runningClocks, secondsOfItem, worksOfItem } from './work-queries.ts';

/** So many rows of what was taken down stand on a page; sums are over all of them. */
const MOST_SHOWN = 100;

/** Everything the sheet of a teardown shows. @param query of its address: what was done, and what is typed again */
export function readTeardown(ledger: Ledger, item: ItemOfKind, query: Typed): TeardownParts {
  const { db } = ledger;
  const bins = listBinsOnHand(db);
  const outputs = outputsOfItem(db, item.id);
  return {
    item,
    isOpen: !isGoneWhole(item.status),
    cautions: cautionsOf(ledger, item, outputs),
    time: readTime(ledger, item, query),
    balance: balanceOfItem(db, item),
    inWeights: binOutputs(db, item.id).slice(0, MOST_SHOWN),
    outputs: outputs.slice(0, MOST_SHOWN),
    lists: {
      bins,
      containers: listContainers(db),
      scales: listScales(db),
      grades: listGrades(db).filter(({ id }) => bins.some((bin) => bin.grade_id === id)),
    },
    done: query.done ?? '',
    sheet: startingSheet(ledger, item, query),
    finish: startingFinish(ledger, item),
  };
}

/** What to be careful with, by the item's kind, its name, and the parts that came out of it. */
function cautionsOf({ db }: Ledger, item: ItemOfKind, outputs: readonly ItemOutput[]): Caution[] {
  const kind = findItemKind(db, item.item_kind_id);
  const parts = outputs.filter((output) => output.is_undone === 0).map(({ name }) => name);
  return cautionsOfKind({ name: item.kind_name, cautions: kind?.cautions ?? '' }, item.name, parts);
}

function readTime(ledger: Ledger, item: ItemOfKind, query: Typed): TimeParts {
  const { db, clock } = ledger;
  const running = findClock(db, item.id);
  const done = findWork(db, idIn(query.work));
  return {
    itemId: item.id,
    isOpen: !isGoneWhole(item.status),
    clock:
      running === undefined
        ? null
        : { startedAt: running.started_at, seconds: secondsBetween(running.started_at, clock.now()) },
    others: runningClocks(db).filter((other) => other.item_id !== item.id),
    works: worksOfItem(db, item.id, MOST_SHOWN),
    totalSeconds: secondsOfItem(db, item.id),
    justDone: done?.item_id === item.id && done.is_undone === 0 ? done : null,
    starting: startingMinutes(ledger, item, query),
  };
}

/** A time that was taken back by mistake is typed again as it was. */
function startingMinutes({ db, clock }: Ledger, item: ItemOfKind, query: Typed): Typed {
  const again = findWork(db, idIn(query.again));
  if (again === undefined || again.item_id !== item.id) return { workedOn: clock.today() };
  const minutes =
    again.minutes_typed === '' ? String(Math.max(1, Math.round(again.seconds / 60))) : again.minutes_typed;
  return { minutes, workedOn: again.worked_on, note: again.note };
}

/** The sheet as it opens; waste or a part that was taken back by mistake stands in it again. */
function startingSheet({ db, clock, settings }: Ledger, item: ItemOfKind, query: Typed): Typed {
  const common = { unit: settings.unit, scale: AS_USUAL, occurredOn: clock.today(), requestKey: newRequestKey() };
  const again = findOutput(db, idIn(query.output));
  if (again === undefined || again.item_id !== item.id) return common;
  const fields =
    again.kind === 'part'
      ? { 'part-1': again.name, 'partNet-1': again.net_typed }
      : { 'waste-1': again.name, 'wasteNet-1': again.net_typed };
  return { ...common, ...fields, unit: again.unit, occurredOn: again.occurred_on };
}

function startingFinish({ clock, settings }: Ledger, item: ItemOfKind): Typed {
  const { depth, closed_on: closedOn, disposal_minor: disposal } = item;
  return {
    depth,
    closedOn: closedOn ?? clock.today(),
    disposal: disposal === 0 ? '' : writeMoneyForFile(disposal, settings.currency).replace('.', settings.decimalMark),
  };
}

/** What the page of an item says of its teardown. */
export const readTeardownSummary = ({ db }: Ledger, item: ItemOfKind): TeardownSummary => ({
  itemId: item.id,
  isRunning: findClock(db, item.id) !== undefined,
  totalSeconds: secondsOfItem(db, item.id),
  balance: balanceOfItem(db, item),
});

/** What was sold of an item for reuse, and the form for one more. */
export function readPartSales(ledger: Ledger, item: ItemOfKind, query: Typed): PartSalesParts {
  const { db } = ledger;
  return {
    item,
    sales: partSalesOfItem(db, item.id).slice(0, MOST_SHOWN),
    parts: outputsOfItem(db, item.id).filter((output) => output.kind === 'part' && output.is_undone === 0),
    done: query.done ?? '',
    starting: startingSale(ledger, item, query),
  };
}

/** The form of a sale as it opens: for a part that the address names, or as a sale that was taken back. */
function startingSale({ db, clock, settings }: Ledger, item: ItemOfKind, query: Typed): Typed {
  const again = findPartSale(db, idIn(query.again));
  const money = (minor: Parameters<typeof writeMoneyForFile>[0]) =>
    minor === 0 ? '' : writeMoneyForFile(minor, settings.currency).replace('.', settings.decimalMark);
  if (again === undefined || again.item_id !== item.id) {
    return { what: idIn(query.part) === 0 ? '' : String(idIn(query.part)), soldOn: clock.today() };
  }
  return {
    what: again.item_output_id === null ? WHOLE : String(again.item_output_id),
    price: money(again.price_minor),
    fees: money(again.fees_minor),
    postage: money(again.postage_minor),
    listedOn: again.listed_on ?? '',
    soldOn: again.sold_on,
    note: again.note,
  };
}
