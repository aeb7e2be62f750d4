import type { Ledger } from '../server/context.ts';
import { weighLoads } from '../server/manifests/acts.ts';
import { recordLoadedManifest } from '../server/manifests/loading.ts';
import { loadsOf } from '../server/manifests/queries.ts';
import { amountMinor, roundToMinor, sumMoney } from '../server/money/money.ts';
import type { PriceUnit } from '../server/prices/compute.ts';
import { recordTicket, type TicketInput } from '../server/tickets/acts.ts';
import { day } from '../server/units/day.ts';
import { Decimal } from '../server/units/decimal.ts';
import { type MassUnit, toMassUg } from '../server/units/mass.ts';
import { binId, gradeId, lb } from './helper.ts';

/** A load of one bin: its home weight and the price that was quoted for it; '' when there was none. */
export interface SaleLoad {
  code: string;
  net: string;
  price: string;
  per?: PriceUnit;
}

/** A ticket line as printed, for some of the loads by their place in the list, from 0. */
export interface SaleLine {
  loads: number[];
  paidAs: string;
  gross: string;
  deduction: string;
  net: string;
  price: string;
  per?: PriceUnit;
  /** In major units: "336.00". */
  amount: string;
}

export interface Sale {
  yardId: number;
  number: string;
  on: string;
  unit?: MassUnit;
  loads: SaleLoad[];
  lines: SaleLine[];
  charges?: string;
}

const cents = (ledger: Ledger, text: string) => roundToMinor(new Decimal(text), ledger.settings.currency);

/** Weighs the first load of a draft out bare, in pounds, on a scale or on none that is named. */
export function weighOut(
  ledger: Ledger,
  manifestId: number,
  { gross, scaleId, emptiesBin = true }: { gross: string; scaleId: number | null; emptiesBin?: boolean },
): void {
  const [load] = loadsOf(ledger.db, manifestId);
  weighLoads(ledger, manifestId, [
    {
      lineId: load?.id ?? 0,
      containerId: null,
      scaleId,
      grossTyped: gross,
      tareTyped: '0',
      netTyped: gross,
      unit: 'lb',
      massUg: lb(gross),
      emptiesBin,
    },
  ]);
}

/** The ticket of a sale whose manifest is already loaded. */
export function ticketOf(ledger: Ledger, sale: Sale, manifestId: number): TicketInput {
  const { unit = 'lb' } = sale;
  const loadIds = loadsOf(ledger.db, manifestId).map((load) => load.id);
  const lines = sale.lines.map((line, index) => ({
    lineNo: index + 1,
    description: '',
    gradeId: gradeId(ledger, line.paidAs),
    loadIds: line.loads.map((place) => loadIds[place] ?? 0),
    gross: line.gross,
    tare: '0',
    deduction: line.deduction,
    net: line.net,
    unit,
    price: line.price,
    per: line.per ?? unit,
    amountMinor: cents(ledger, line.amount),
  }));
  const chargesMinor = cents(ledger, sale.charges ?? '0');
  return {
    yardId: sale.yardId,
    manifestId,
    number: sale.number,
    soldOn: day(sale.on),
    note: '',
    lines,
    totals: {
      chargesMinor,
      taxMinor: amountMinor(0),
      cashRoundingMinor: amountMinor(0),
      totalMinor: amountMinor(sumMoney(lines.map((line) => line.amountMinor)) - chargesMinor),
      paidBy: 'cash',
    },
  };
}

/** Loads a manifest and enters its ticket on the same day. */
export function sell(ledger: Ledger, sale: Sale): { manifestId: number; ticketId: number } {
  const { unit = 'lb' } = sale;
  const manifestId = recordLoadedManifest(ledger, {
    yardId: sale.yardId,
    number: sale.number,
    loadedOn: day(sale.on),
    loads: sale.loads.map((load, index) => ({
      label: String.fromCharCode(65 + index),
      binId: binId(ledger, load.code),
      netTyped: load.net,
      unit,
      massUg: toMassUg({ amount: new Decimal(load.net), unit }),
      price: load.price === '' ? null : load.price,
      per: load.price === '' ? null : (load.per ?? unit),
    })),
  });
  return { manifestId, ticketId: recordTicket(ledger, ticketOf(ledger, sale, manifestId)) };
}

/**
 * Three sales of No. 2 copper to two yards in two of three months, all invented. By hand:
 * December: home 150, yard 149, paid for 147 lb; quoted 530.00, paid 509.40, charges 6.00.
 * February: home 20, yard 19, paid for 15 lb; quoted 76.00, paid 57.00.
 */
export function sellCopper(ledger: Ledger, yards: { north: number; south: number }): void {
  const copper = { loads: [0], paidAs: 'No. 2 copper' };
  sell(ledger, {
    yardId: yards.north,
    number: 'N1',
    on: '2024-12-05',
    loads: [{ code: 'CU2', net: '100', price: '3.60' }],
    lines: [{ ...copper, gross: '98', deduction: '2', net: '96', price: '3.50', amount: '336.00' }],
    charges: '6.00',
  });
  sell(ledger, {
    yardId: yards.south,
    number: 'S1',
    on: '2024-12-19',
    loads: [{ code: 'CU2', net: '50', price: '3.40' }],
    lines: [{ ...copper, gross: '51', deduction: '0', net: '51', price: '3.40', amount: '173.40' }],
  });
  sell(ledger, {
    yardId: yards.north,
    number: 'N2',
    on: '2025-02-11',
    loads: [{ code: 'CU2', net: '20', price: '3.80' }],
    lines: [{ ...copper, gross: '19', deduction: '4', net: '15', price: '3.80', amount: '57.00' }],
  });
}
