import { type RecentInWeight, standingInWeights } from '../../ledger/queries.ts';
import type { MassUnit } from '../../units/mass.ts';
import { toWeight } from '../../units/mass.ts';
import { weightAsTyped, weightFigure } from '../compute.ts';
import { exportFile } from './export.ts';

/** Gross and tare in the one unit of their row: the one the reading was typed in, unless another is asked for. */
function weights(inWeight: RecentInWeight, asked: MassUnit | null) {
  const { gross_typed, gross_ug, tare_typed, tare_ug, unit: rowUnit } = inWeight;
  const gross = weightAsTyped(gross_typed, rowUnit, gross_ug) ?? toWeight(gross_ug, rowUnit);
  const tare = weightAsTyped(tare_typed, rowUnit, tare_ug) ?? toWeight(tare_ug, rowUnit);
  const unit = asked ?? gross.unit;
  return { gross: weightFigure(gross, unit), tare: weightFigure(tare, unit), unit };
}

export const inWeights = exportFile({
  name: 'in-weights',
  sentence: 'Weighings that stand, each in the unit it was typed in. What was taken back or corrected is left out.',
  columns: ['occurred_on', 'bin', 'gross', 'tare', 'unit', 'scale', 'item', 'note'],
  texts: ['bin', 'scale', 'note'],
  *rows({ db }, { unit }) {
    for (const inWeight of standingInWeights(db)) {
      yield {
        occurred_on: inWeight.occurred_on,
        bin: inWeight.bin_code,
        ...weights(inWeight, unit),
        scale: inWeight.scale_name ?? '',
        item: inWeight.item_id === null ? '' : String(inWeight.item_id),
        note: inWeight.note,
      };
    }
  },
});
