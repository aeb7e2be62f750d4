import type { Ledger } from '../../context.ts';
import { Reader } from '../../reading.ts';
import { addBin } from '../../setup/acts.ts';
import { readNewBin } from '../../setup/forms.ts';
import { enterEach, type ImportKind, readAsForm, readGrade, refuseRepeats } from './rows.ts';

/** The form chooses the grade from a list, by its id; a file names it. */
function readRow(ledger: Ledger, reader: Reader) {
  const grade = readGrade(ledger, reader, 'grade');
  return readAsForm(reader, { code: 'code', grade: 'grade', place: 'place' }, (form) => {
    const typed = { ...form.typed, grade: String(grade?.id ?? '') };
    return readNewBin(ledger.db, new Reader(typed, form.settings), ledger.clock.today());
  });
}

export const bins: ImportKind = {
  name: 'bins',
  sentence: 'Bins with the code on their tag, the grade they hold and where they stand. They are opened today.',
  columns: ['code', 'grade', 'place'],
  optional: ['place'],
  words: ['bin', 'bins'],
  run(job) {
    refuseRepeats(job.rows, 'code');
    enterEach(
      job,
      {},
      (reader) => readRow(job.ledger, reader),
      (bin) => addBin(job.ledger, bin),
    );
  },
};
