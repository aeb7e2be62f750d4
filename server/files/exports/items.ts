import { readCautionKeys } from '../../items/cautions.ts';
import { listItemKinds } from '../../items/kind-queries.ts';
import { everyItem, type ItemOfKind } from '../../items/queries.ts';
import { writeMoneyForFile } from '../../money/money.ts';
import { type MassUnit, toWeight } from '../../units/mass.ts';
import { loadFigure, weightAsTyped, weightFigure } from '../compute.ts';
import { exportFile } from './export.ts';

export const itemKinds = exportFile({
  name: 'item-kinds',
  sentence:
    'Kinds of items with their cautions, the grade they are sold as when sold as is, and minutes by rule of thumb.',
  columns: ['name', 'cautions', 'as_is_grade', 'rule_minutes'],
  texts: ['name', 'as_is_grade'],
  rows: ({ db }) =>
    listItemKinds(db).map(({ name, cautions, as_is_grade_name, rule_minutes }) => ({
      name,
      // In the order of the list of cautions, in which a form keeps them.
      cautions: readCautionKeys(cautions).join(';'),
      as_is_grade: as_is_grade_name ?? '',
      rule_minutes,
    })),
});

/** The whole weight in the unit it was typed in, unless another is asked for; nothing for what was not weighed. */
function weightCells({ weight_typed, weight_unit, weight_ug }: ItemOfKind, asked: MassUnit | null) {
  if (weight_ug === null || weight_unit === '') return { weight: '', unit: '' };
  const typed = weightAsTyped(weight_typed, weight_unit, weight_ug) ?? toWeight(weight_ug, weight_unit);
  const unit = asked ?? typed.unit;
  const weight = weightFigure(typed, unit);
  if (/[1-9]/.test(weight)) return { weight, unit };
  // What is too small for the decimals of its unit is written in grams: it is never nothing.
  const small = loadFigure(null, weight_ug, 'g');
  return { weight: small.figure, unit: small.unit };
}

export const items = exportFile({
  name: 'items',
  sentence: 'What was picked up, each under its number: where from, proof, cost, weight, and how it ended.',
  columns: [
    'item',
    'kind',
    'picked_up_on',
    'got',
    'source',
    'proof',
    'cost',
    'weight',
    'unit',
    'name',
    'note',
    'status',
    'depth',
    'closed_on',
    'disposal',
  ],
  texts: ['kind', 'source', 'proof', 'name', 'note'],
  *rows({ db, settings }, { unit }) {
    for (const item of everyItem(db)) {
      yield {
        item: String(item.id),
        kind: item.kind_name,
        picked_up_on: item.picked_up_on,
        got: item.got,
        source: item.source,
        proof: item.proof,
        cost: writeMoneyForFile(item.cost_minor, settings.currency),
        ...weightCells(item, unit),
        name: item.name,
        note: item.note,
        status: item.status,
        depth: item.depth,
        closed_on: item.closed_on ?? '',
        disposal: writeMoneyForFile(item.disposal_minor, settings.currency),
      };
    }
  },
});
