import type { Ledger } from '../../context.ts';
import { type ItemKindInput, saveItemKind } from '../../items/kind-acts.ts';
import { readItemKind } from '../../items/kind-forms.ts';
import { Reader } from '../../reading.ts';
import { enterEach, type ImportKind, readAsForm, readGrade, refuseRepeats } from './rows.ts';

const FIELDS = { name: 'name', cautions: 'cautions', rule_minutes: 'ruleMinutes' };

function readRow({ db, ...ledger }: Ledger, reader: Reader): ItemKindInput {
  const isNamed = reader.raw('as_is_grade') !== '';
  const grade = isNamed ? readGrade({ db, ...ledger }, reader, 'as_is_grade') : null;
  const kind = readAsForm(reader, FIELDS, ({ typed, settings }) => {
    // In a file they are joined by semicolons, so that the cell needs no quotes.
    const cautions = (typed.cautions ?? '').replaceAll(';', ',');
    return readItemKind(db, new Reader({ ...typed, cautions }, settings));
  });
  return { ...kind, as_is_grade_id: grade?.id ?? null };
}

export const itemKinds: ImportKind = {
  name: 'item-kinds',
  sentence:
    'Kinds of items: the keys of their cautions joined by semicolons, the grade they are sold as when sold as is, and ' +
    'minutes by rule of thumb.',
  columns: ['name', 'cautions', 'as_is_grade', 'rule_minutes'],
  optional: ['cautions', 'as_is_grade', 'rule_minutes'],
  words: ['kind of item', 'kinds of items'],
  run(job) {
    const { ledger } = job;
    refuseRepeats(job.rows, 'name');
    enterEach(
      job,
      {},
      (reader) => readRow(ledger, reader),
      (kind) => saveItemKind(ledger, null, kind),
    );
  },
};
