import { listAllBins } from '../../ledger/queries.ts';
import { writeMoneyForFile } from '../../money/money.ts';
import { allQuotes } from '../../prices/queries.ts';
import { listGrades, listScales, listYardScales, listYards } from '../../setup/queries.ts';
import { exportFile } from './export.ts';

export const grades = exportFile({
  name: 'grades',
  sentence: 'Grades with their family, quoting unit and code word.',
  columns: ['name', 'family', 'quoted_per', 'code'],
  texts: ['name', 'code'],
  rows: ({ db }) => listGrades(db).map(({ name, family, quoted_per, code }) => ({ name, family, quoted_per, code })),
});

export const bins = exportFile({
  name: 'bins',
  sentence: 'Bins with their grade and place, closed ones too.',
  columns: ['code', 'grade', 'place'],
  texts: ['code', 'grade', 'place'],
  rows: ({ db }) => listAllBins(db).map(({ code, grade_name, place }) => ({ code, grade: grade_name, place })),
});

export const yards = exportFile({
  name: 'yards',
  sentence: 'Yards with their unit, smallest coin and scale.',
  columns: ['name', 'unit', 'cash_step', 'scale_division', 'scale_class'],
  texts: ['name', 'scale_division', 'scale_class'],
  rows: ({ db, settings }) =>
    listYards(db).map(({ name, unit, cash_step_minor, scale_division, scale_class }) => {
      return {
        name,
        unit,
        cash_step: writeMoneyForFile(cash_step_minor, settings.currency),
        scale_division,
        scale_class,
      };
    }),
});

export const yardScales = exportFile({
  name: 'yard-scales',
  sentence: 'Further scales of yards, with the families of grades that go over them.',
  columns: ['yard', 'name', 'division', 'class', 'families'],
  texts: ['yard', 'name', 'division', 'class'],
  rows({ db }) {
    const yardNames = new Map(listYards(db).map(({ id, name }) => [id, name]));
    return listYardScales(db).map((scale) => ({
      yard: yardNames.get(scale.yard_id) ?? '',
      name: scale.name,
      division: scale.division,
      class: scale.class,
      families: scale.families.join(';'),
    }));
  },
});

export const scales = exportFile({
  name: 'scales',
  sentence: 'Your scales with division, unit, class and tolerance.',
  columns: ['name', 'division', 'unit', 'class', 'tolerance'],
  texts: ['name', 'division', 'class', 'tolerance'],
  rows: ({ db }) =>
    listScales(db).map((scale) => ({
      name: scale.name,
      division: scale.division,
      unit: scale.unit,
      class: scale.class,
      tolerance: scale.tolerance,
    })),
});

export const quotes = exportFile({
  name: 'quotes',
  sentence: 'Every price that was written down, in the order of the days they were seen.',
  columns: ['yard', 'grade', 'price', 'per', 'seen_on'],
  texts: ['yard', 'grade'],
  *rows({ db }) {
    for (const { yard_name, grade_name, price, per, seen_on } of allQuotes(db)) {
      yield { yard: yard_name, grade: grade_name, price, per, seen_on };
    }
  },
});
