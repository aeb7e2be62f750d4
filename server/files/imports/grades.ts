import { saveGrade } from '../../setup/acts.ts';
import { readGrade } from '../../setup/forms.ts';
import { enterEach, type ImportKind, readAsForm, refuseRepeats } from './rows.ts';

const FIELDS = { name: 'name', family: 'family', quoted_per: 'quotedPer', code: 'code' };

export const grades: ImportKind = {
  name: 'grades',
  sentence: 'Grades with their family, the unit yards quote them in, and the code word of the industry circular.',
  columns: ['name', 'family', 'quoted_per', 'code'],
  optional: ['code'],
  words: ['grade', 'grades'],
  run(job) {
    const { ledger } = job;
    refuseRepeats(job.rows, 'name');
    enterEach(
      job,
      {},
      (reader) => readAsForm(reader, FIELDS, (form) => readGrade(ledger.db, form, null)),
      (grade) => saveGrade(ledger, null, grade),
    );
  },
};
