import type { Selectable } from 'kysely';
import type { Ledger } from '../context.ts';
import { build, type Db, writtenOnce } from '../db/database.ts';
import { type BinLedgerRow, binLedgerRows, findInWeightsByIds, type LedgerCursor } from '../ledger/bin-ledger.ts';
import { binAccount, findBin } from '../ledger/queries.ts';
import { standingTransfers } from '../ledger/transfers.ts';
import { readingOf } from '../manifests/compute.ts';
import { findLoad, type Load } from '../manifests/queries.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg } from '../units/mass.ts';
import type { LoadWeighingTable } from './table.ts';

/** One weighing behind a weight, with the scale by its id. */
export type WeighingRow = Omit<Selectable<LoadWeighingTable>, 'manifest_line_id' | 'weighing_no'>;

/** A book weight that more weighings than this went into is left without an uncertainty. */
const MOST_WEIGHINGS = 500;
const ROWS_AT_ONCE = 50;
/** A load that was brought back is asked for what it was made of, which may be another one that was; so deep at most. */
const MOST_RETURNS = 5;

/** The book of a bin at some moment. */
export interface BookAt {
  readonly binId: number;
  /** Just before this row of its ledger; null for now. */
  readonly before: LedgerCursor | null;
  readonly bookUg: MassUg;
}

/**
 * The weighings that a bin's book weight is made of: every one since it was last empty or counted. Empty when they cannot
 * be told. Recounts, moves and strippings do not say on which scale; they are taken to be on the bin's usual one.
 */
export function weighingsInBook(ledger: Ledger, { binId, before, bookUg }: BookAt, returns = 0): WeighingRow[] {
  const { db } = ledger;
  const usualScaleId = findBin(db, binId)?.scale_id ?? null;
  const rows = rowsSinceEmpty(db, binAccount(db, binId), before, bookUg);
  const ids = (kind: BinLedgerRow['document_kind']) =>
    rows.filter((row) => row.document_kind === kind).map((row) => row.document_id);
  const inWeights = findInWeightsByIds(db, ids('in_weight'));
  const recounted = recountedNets(db, ids('recount'));
  const stripped = strippedWeights(db, ids('stripping'));
  return rows.flatMap((row): WeighingRow[] => {
    switch (row.document_kind) {
      case 'in_weight': {
        const inWeight = inWeights.get(row.document_id);
        if (inWeight === undefined) return [];
        const { scale_id, gross_ug, is_estimate } = inWeight;
        return [{ ...weighedOn(row), scale_id, gross_ug, is_estimate }];
      }
      case 'recount': {
        const netUg = recounted.get(row.document_id) ?? massUg(0);
        return netUg === 0 ? [] : [{ ...weighedOn(row), sign: 1, scale_id: usualScaleId, gross_ug: netUg }];
      }
      case 'bin_transfer':
        return [{ ...weighedOn(row), scale_id: usualScaleId, gross_ug: massUg(Math.abs(row.signed_ug)) }];
      case 'stripping': {
        const weights = stripped.get(row.document_id);
        // The wire was weighed once, and leaves in two lines: as metal and as waste.
        if (weights === undefined || row.other_kind !== 'outside') return [];
        const grossUg = row.signed_ug < 0 ? weights.before_ug : weights.after_ug;
        return [{ ...weighedOn(row), scale_id: usualScaleId, gross_ug: grossUg }];
      }
      default:
        return weighingsOfOtherLoad(ledger, row, returns);
    }
  });
}

const weighedOn = ({ signed_ug, occurred_on }: BinLedgerRow) => ({
  sign: signed_ug < 0 ? (-1 as const) : (1 as const),
  weighed_on: occurred_on,
  is_estimate: 0 as const,
});

/**
 * The standing rows of a bin's ledger that its book weight is made of, newest first: back to where it was empty, or to
 * a recount, which weighed all that was in it.
 */
function rowsSinceEmpty(db: Db, accountId: number, before: LedgerCursor | null, bookUg: MassUg): BinLedgerRow[] {
  const found: BinLedgerRow[] = [];
  let cursor = before;
  let leftUg: number = bookUg;
  while (found.length <= MOST_WEIGHINGS) {
    const rows = binLedgerRows(db, accountId, cursor, ROWS_AT_ONCE);
    for (const row of rows) {
      if (row.is_reversed === 1 || row.reverses_id !== null) continue;
      found.push(row);
      leftUg -= row.signed_ug;
      if (leftUg <= 0 || row.document_kind === 'recount') return found;
    }
    const last = rows.at(-1);
    if (last === undefined || rows.length < ROWS_AT_ONCE) return found;
    cursor = { day: last.occurred_on, id: last.id };
  }
  return [];
}

/**
 * A part of the bin that was weighed out before, or a load that was brought back: weighed as that load was. A load that
 * left by the book was not weighed, and what is found behind it is another day's material.
 */
function weighingsOfOtherLoad(ledger: Ledger, row: BinLedgerRow, returns: number): WeighingRow[] {
  if (row.other_kind !== 'load' || returns > MOST_RETURNS) return [];
  const { db } = ledger;
  const lineId = row.document_kind === 'load_return' ? returnedLine(db, row.document_id) : row.document_id;
  const load = lineId === undefined ? undefined : findLoad(db, lineId);
  if (load === undefined) return [];
  if (load.weighed === 'load-out') return [{ ...weighedOn(row), ...loadOutReading(ledger, load) }];
  return row.signed_ug < 0 ? [] : weighingsOfBookLoad(ledger, load, returns + 1);
}

/** What the scale at home showed as a load was weighed out, and which one it was. */
const loadOutReading = ({ settings }: Ledger, load: Load): Pick<WeighingRow, 'scale_id' | 'gross_ug'> => ({
  scale_id: load.scale_id,
  gross_ug: readingOf(load, settings.decimalMark)?.grossUg ?? load.mass_ug ?? massUg(0),
});

const recountedNets = (db: Db, ids: readonly number[]): Map<number, MassUg> =>
  new Map(
    db
      .many(
        build
          .selectFrom('recount')
          .select(['id', 'net_ug'])
          .where('id', 'in', [...ids]),
      )
      .map((row) => [row.id, row.net_ug]),
  );

const strippedWeights = (db: Db, ids: readonly number[]): Map<number, { before_ug: MassUg; after_ug: MassUg }> =>
  new Map(
    db
      .many(
        build
          .selectFrom('stripping')
          .select(['id', 'before_ug', 'after_ug'])
          .where('id', 'in', [...ids]),
      )
      .map((row) => [row.id, row]),
  );

const returnedLine = (db: Db, loadReturnId: number): number | undefined =>
  db.maybe(build.selectFrom('load_return').select('manifest_line_id').where('id', '=', loadReturnId))?.manifest_line_id;

/**
 * The weighings that a load's weight rests on: its load-out weight, or for a book weight every weighing since its bin was
 * last empty or counted. Empty when they cannot be told.
 * @param on the day it was loaded, or today for a draft
 */
export const weighingsBehind = (ledger: Ledger, load: Load, on: Day): WeighingRow[] =>
  load.weighed === 'load-out'
    ? [{ ...loadOutReading(ledger, load), sign: 1, weighed_on: on, is_estimate: 0 }]
    : weighingsOfBookLoad(ledger, load);

/** Keeps the weighings behind a load's book weight with it, as it is loaded. */
export function keepWeighings(db: Db, manifestLineId: number, rows: readonly WeighingRow[]): void {
  for (const [index, row] of rows.entries()) {
    db.insert('load_weighing', { manifest_line_id: manifestLineId, weighing_no: index + 1, ...row });
  }
}

const keptWeighings = writtenOnce(() =>
  build
    .selectFrom('load_weighing')
    .select(['scale_id', 'gross_ug', 'sign', 'weighed_on', 'is_estimate'])
    .where('manifest_line_id', '=', 0)
    .orderBy('weighing_no'),
);

/**
 * The weighings behind the book weight of a load: those kept when it was loaded, for a draft those in its bin now. Of a
 * load from before they were kept, they are found in the history of its bin.
 */
export function weighingsOfBookLoad(ledger: Ledger, load: Load, returns = 0): WeighingRow[] {
  const { db } = ledger;
  const binId = load.bin_id;
  if (load.mass_ug === null) {
    return weighingsInBook(ledger, { binId, before: null, bookUg: findBin(db, binId)?.mass_ug ?? massUg(0) }, returns);
  }
  const kept = db.many(keptWeighings(load.id));
  if (kept.length > 0) return kept;
  const [first] = standingTransfers(db, 'manifest_line', load.id);
  if (first === undefined) return [];
  const before = { day: first.occurred_on, id: first.id };
  return weighingsInBook(ledger, { binId, before, bookUg: load.mass_ug }, returns);
}
