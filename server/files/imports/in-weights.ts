import type { Ledger } from '../../context.ts';
import type { Db } from '../../db/database.ts';
import { recordInWeight } from '../../ledger/acts.ts';
import { readItemNumber } from '../../ledger/forms.ts';
import { type BinOnHand, findBinByCode, standingReadings } from '../../ledger/queries.ts';
import type { Reader } from '../../reading.ts';
import { findScaleByName, type Scale } from '../../setup/queries.ts';
import { writeDay } from '../../units/day.ts';
import { NO_MASS } from '../../units/mass.ts';
import { daysSpanned, noteRepeats, type Repeat } from './repeats.ts';
import {
  askedOnce,
  asTyped,
  attemptRefusedFirst,
  enterEach,
  type ImportJob,
  type ImportKind,
  readBin,
  readScale,
} from './rows.ts';

/** What rows name. The mass of a bin that was asked for once is not that of now. */
interface Named {
  bin: (db: Db, code: string) => Pick<BinOnHand, 'id' | 'code'> | undefined;
  scale: (db: Db, name: string) => Scale | undefined;
}

const readScaleId = (ledger: Ledger, reader: Reader, { scale }: Named): number | null =>
  reader.raw('scale') === '' ? null : (readScale(ledger, reader, 'scale', scale)?.id ?? null);

function readRow(ledger: Ledger, reader: Reader, named: Named) {
  const bin = readBin(ledger, reader, named.bin);
  const unit = reader.massUnit('unit');
  const gross = reader.weight('gross', { unit, what: 'reading' });
  const tare = reader.optionalWeight('tare', { unit, zeroAllowed: true, what: 'tare' });
  return {
    bin,
    unit,
    gross,
    tare,
    scaleId: readScaleId(ledger, reader, named),
    occurredOn: reader.day('occurred_on'),
    note: reader.note('note'),
    itemId: readItemNumber(reader),
  };
}

type ReadInWeight = ReturnType<typeof readRow>;

/** What 6 decimals of a file leave out is less than this in lb, kg, oz and g. */
const SAME_UG = 1000;

/**
 * Tells of a row whether its weighing stands in the ledger already: the same bin and day, gross and tare. Masses are
 * compared, so that it does not matter in which unit they were exported. What stood before the import is read at once.
 */
function standingBefore({ ledger, rows }: ImportJob): (row: ReadInWeight) => boolean {
  const span = daysSpanned(rows, 'occurred_on');
  const byBinAndDay = new Map<string, { grossUg: number; tareUg: number }[]>();
  for (const standing of span === null ? [] : standingReadings(ledger.db, span.from, span.to)) {
    const key = `${standing.bin_id} ${standing.occurred_on}`;
    const readings = byBinAndDay.get(key) ?? [];
    readings.push({ grossUg: standing.gross_ug, tareUg: standing.tare_ug });
    byBinAndDay.set(key, readings);
  }
  return ({ bin, occurredOn, gross, tare }) => {
    const isSame = (a: number, b: number) => Math.abs(a - b) < SAME_UG;
    return (byBinAndDay.get(`${bin.id} ${occurredOn}`) ?? []).some(
      ({ grossUg, tareUg }) => isSame(grossUg, gross.massUg) && isSame(tareUg, tare?.massUg ?? NO_MASS),
    );
  };
}

function enter(ledger: Ledger, { bin, gross, tare, ...row }: ReadInWeight): void {
  const mark = ledger.settings.decimalMark;
  recordInWeight(ledger, {
    ...row,
    binId: bin.id,
    containerId: null,
    grossTyped: asTyped(gross.typed, mark),
    tareTyped: tare === null ? '0' : asTyped(tare.typed, mark),
    grossUg: gross.massUg,
    tareUg: tare?.massUg ?? NO_MASS,
    isEstimate: false,
  });
}

export const inWeights: ImportKind = {
  name: 'in-weights',
  sentence:
    'Weighings into the bins: gross and tare in the unit of their row. The column item is the number of the item they came from; it may be empty.',
  columns: ['occurred_on', 'bin', 'gross', 'tare', 'unit', 'scale', 'item', 'note'],
  optional: ['tare', 'scale', 'item', 'note'],
  words: ['in-weight', 'in-weights'],
  run(job) {
    const isStanding = standingBefore(job);
    const named: Named = { bin: askedOnce(findBinByCode), scale: askedOnce(findScaleByName) };
    const repeats: Repeat[] = [];
    enterEach(
      job,
      { occurredOn: 'occurred_on' },
      (reader) => readRow(job.ledger, reader, named),
      (row, { line }) => {
        enter(job.ledger, row);
        if (!isStanding(row)) return;
        const sentence = `The same weighing into ${row.bin.code} on ${writeDay(row.occurredOn)} is in the ledger already.`;
        repeats.push({ line, sentence });
      },
      attemptRefusedFirst,
    );
    noteRepeats(job, repeats);
  },
};
