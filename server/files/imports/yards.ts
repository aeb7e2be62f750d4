import { saveScale, saveYard } from '../../setup/acts.ts';
import { readScale, readYard } from '../../setup/forms.ts';
import { enterEach, type ImportKind, readAsForm, refuseRepeats } from './rows.ts';

const YARD_FIELDS = {
  name: 'name',
  unit: 'unit',
  cash_step: 'cashStep',
  scale_division: 'scaleDivision',
  scale_class: 'scaleClass',
};

export const yards: ImportKind = {
  name: 'yards',
  sentence: 'Yards with the unit of their tickets, the step they round cash to, and what their scale says of itself.',
  columns: ['name', 'unit', 'cash_step', 'scale_division', 'scale_class'],
  optional: ['cash_step', 'scale_division', 'scale_class'],
  words: ['yard', 'yards'],
  run(job) {
    refuseRepeats(job.rows, 'name');
    enterEach(
      job,
      {},
      (reader) => readAsForm(reader, YARD_FIELDS, readYard),
      (yard) => saveYard(job.ledger, null, yard),
    );
  },
};

const SCALE_FIELDS = { name: 'name', division: 'division', unit: 'unit', class: 'class', tolerance: 'tolerance' };

export const scales: ImportKind = {
  name: 'scales',
  sentence: 'Your own scales with their division, unit, accuracy class and stated tolerance.',
  columns: ['name', 'division', 'unit', 'class', 'tolerance'],
  optional: ['division', 'class', 'tolerance'],
  words: ['scale', 'scales'],
  run(job) {
    refuseRepeats(job.rows, 'name');
    enterEach(
      job,
      {},
      (reader) => readAsForm(reader, SCALE_FIELDS, readScale),
      (scale) => saveScale(job.ledger, null, scale),
    );
  },
};
