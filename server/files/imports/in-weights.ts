import type { Ledger } from '../../context.ts';
import { recordInWeight } from '../../ledger/acts.ts';
import { updateBin } from '../../ledger/queries.ts';
import type { Reader } from '../../reading.ts';
import { findScaleByName } from '../../setup/queries.ts';
import { NO_MASS } from '../../units/mass.ts';
import { shortly } from '../compute.ts';
import { asTyped, enterEach, type ImportKind, readBin } from './rows.ts';

function readScale({ db }: Ledger, reader: Reader): number | null {
  const name = reader.text('scale', 'a scale');
  if (name === '') return null;
  const scale = findScaleByName(db, name);
  if (scale === undefined) reader.problem('scale', `There is no scale ${shortly(name)} in the ledger. Add it first.`);
  return scale?.id ?? null;
}

function readRow(ledger: Ledger, reader: Reader) {
  const bin = readBin(ledger, reader);
  const unit = reader.massUnit('unit');
  const gross = reader.weight('gross', { unit, what: 'reading' });
  const tare = reader.optionalWeight('tare', { unit, zeroAllowed: true, what: 'tare' });
  if (reader.raw('item') !== '') {
    reader.problem('item', 'Items cannot be imported yet. Leave this cell empty, or put the item into the note.');
  }
  return {
    bin,
    unit,
    gross,
    tare,
    scaleId: readScale(ledger, reader),
    occurredOn: reader.day('occurred_on'),
    note: reader.note('note'),
  };
}

function enter(ledger: Ledger, { bin, gross, tare, ...row }: ReturnType<typeof readRow>): void {
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
  // A weighing from a file says nothing about the container that the bench form keeps with the bin.
  if (bin.container_id !== null) updateBin(ledger.db, bin.id, { container_id: bin.container_id });
}

export const inWeights: ImportKind = {
  name: 'in-weights',
  sentence: 'Weighings into the bins: gross and tare in the unit of their row.',
  columns: ['occurred_on', 'bin', 'gross', 'tare', 'unit', 'scale', 'item', 'note'],
  optional: ['tare', 'scale', 'item', 'note'],
  words: ['in-weight', 'in-weights'],
  run(job) {
    enterEach(
      job,
      { occurredOn: 'occurred_on' },
      (reader) => readRow(job.ledger, reader),
      (row) => enter(job.ledger, row),
    );
  },
};
