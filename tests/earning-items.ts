import type { Ledger } from '../server/context.ts';
import type { Depth, ItemStatus } from '../server/items/table.ts';
import { amountMinor } from '../server/money/money.ts';
import { recordPriceBoard } from '../server/prices/acts.ts';
import { day } from '../server/units/day.ts';
import { gradeId, lb, weighIn } from './helper.ts';

// Items for tests of earnings, put straight into the ledger. All of it is invented.

const AT = '2025-03-01T08:00:00.000Z';

export const newKind = (ledger: Ledger, name: string, asIs: string | null = null, ruleMinutes = ''): number =>
  ledger.db.insert('item_kind', {
    name,
    cautions: '',
    note: '',
    as_is_grade_id: asIs === null ? null : gradeId(ledger, asIs),
    rule_minutes: ruleMinutes,
  });

export function addRule(ledger: Ledger, kindId: number, grade: string, percent: string): void {
  ledger.db.insert('kind_yield', { item_kind_id: kindId, grade_id: gradeId(ledger, grade), percent });
}

export interface TestItem {
  /** In pounds; null when it was not weighed. */
  weight?: string | null;
  status?: ItemStatus;
  depth?: Depth;
  minutes?: number;
  /** Pounds by code of the bin. */
  gave?: Readonly<Record<string, string>>;
  costMinor?: number;
  disposalMinor?: number;
  closedOn?: string;
  name?: string;
}

/** An item with its work and what it gave; taken apart to clean metal when nothing else is said. */
export function addItem(ledger: Ledger, kindId: number, more: TestItem = {}): number {
  const { weight = '10', status = 'taken apart', minutes = 0, gave = {}, closedOn = '2025-03-02' } = more;
  const id = ledger.db.insert('item', {
    item_kind_id: kindId,
    name: more.name ?? '',
    picked_up_on: day('2025-02-01'),
    got: 'found',
    source: '',
    proof: '',
    cost_minor: amountMinor(more.costMinor ?? 0),
    weight_typed: weight ?? '',
    weight_unit: weight === null ? '' : 'lb',
    weight_ug: weight === null ? null : lb(weight),
    note: '',
    status,
    depth: more.depth ?? (status === 'taken apart' ? 'fine' : ''),
    closed_on: status === 'waiting' ? null : day(closedOn),
    disposal_minor: amountMinor(more.disposalMinor ?? 0),
    recorded_at: AT,
  });
  if (minutes > 0) addWork(ledger, id, minutes);
  for (const [code, net] of Object.entries(gave)) weighIn(ledger, code, net, '2025-03-01', { itemId: id });
  return id;
}

export const addWork = (ledger: Ledger, itemId: number, minutes: number): number =>
  ledger.db.insert('work', {
    item_id: itemId,
    worked_on: day('2025-03-01'),
    seconds: Math.round(minutes * 60),
    recorded_at: AT,
  });

interface TestSale {
  price: number;
  fees?: number;
  postage?: number;
  listedOn?: string;
  outputId?: number;
}

/** A part, or the whole item, sold for reuse; amounts in minor units. */
export const addSale = (ledger: Ledger, itemId: number, sale: TestSale): number =>
  ledger.db.insert('part_sale', {
    item_id: itemId,
    item_output_id: sale.outputId ?? null,
    listed_on: sale.listedOn === undefined ? null : day(sale.listedOn),
    sold_on: day('2025-03-10'),
    price_minor: amountMinor(sale.price),
    fees_minor: amountMinor(sale.fees ?? 0),
    postage_minor: amountMinor(sale.postage ?? 0),
    note: '',
    recorded_at: AT,
  });

/** A price board of one yard, by grade and for a pound. */
export function quotePounds(ledger: Ledger, yardId: number, prices: Readonly<Record<string, string>>): void {
  const seen = { yardId, per: 'lb', seenOn: day('2025-03-15'), seenWhere: '' } as const;
  recordPriceBoard(
    ledger,
    Object.entries(prices).map(([grade, price]) => ({ ...seen, gradeId: gradeId(ledger, grade), price })),
  );
}
