import { type StandingCheck, standingChecks } from '../../scales/queries.ts';
import { listScales } from '../../setup/queries.ts';
import { type MassUnit, toWeight } from '../../units/mass.ts';
import { loadFigure, weightAsTyped, weightFigure } from '../compute.ts';
import { exportFile } from './export.ts';

/**
 * Check weight and reading in the one unit of their row: the one the reading was typed in, unless another is asked for.
 * A check weight too small for the decimals of that unit takes both into grams: it is never nothing.
 */
function figures(check: StandingCheck, asked: MassUnit | null) {
  const { weight_typed, weight_ug, reading_typed, reading_ug, unit: rowUnit } = check;
  const weight = weightAsTyped(weight_typed, rowUnit, weight_ug) ?? toWeight(weight_ug, rowUnit);
  const reading = weightAsTyped(reading_typed, rowUnit, reading_ug) ?? toWeight(reading_ug, rowUnit);
  const unit = asked ?? loadFigure(null, weight_ug, reading.unit).unit;
  return { check_weight: weightFigure(weight, unit), reading: weightFigure(reading, unit), unit };
}

export const scaleChecks = exportFile({
  name: 'scale-checks',
  sentence: 'Checks of your scales with a known weight. What was taken back is left out.',
  columns: ['scale', 'checked_on', 'check_weight', 'reading', 'unit', 'adjusted', 'note'],
  texts: ['scale', 'note'],
  rows({ db }, { unit }) {
    const names = new Map(listScales(db).map(({ id, name }) => [id, name]));
    return standingChecks(db).map((check) => ({
      scale: names.get(check.scale_id) ?? '',
      checked_on: check.checked_on,
      ...figures(check, unit),
      adjusted: check.is_adjusted === 1 ? 'yes' : '',
      note: check.note,
    }));
  },
});
