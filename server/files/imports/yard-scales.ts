import type { Ledger } from '../../context.ts';
import type { GradeFamily } from '../../ledger/families.ts';
import type { Reader } from '../../reading.ts';
import { saveYardScale, type YardScaleInput } from '../../setup/acts.ts';
import { readYardScale } from '../../setup/forms.ts';
import { type Yard, yardScalesOf } from '../../setup/queries.ts';
import { fold, shortly } from '../compute.ts';
import { enterEach, type ImportJob, type ImportKind, type ImportRow, readAsForm, readYard } from './rows.ts';

const FIELDS = { name: 'name', division: 'division', class: 'class', families: 'families' };

interface ReadYardScale {
  yard: Yard;
  scale: YardScaleInput;
}

function readRow(ledger: Ledger, reader: Reader): ReadYardScale {
  const yard = readYard(ledger, reader);
  const unit = yard?.unit ?? ledger.settings.unit;
  return { yard, scale: readAsForm(reader, FIELDS, (form) => readYardScale(form, unit)) };
}

/** Says at a row when an earlier one gives the same yard a scale of this name, or the same family to another scale. */
function refuseTwice({ line, reader }: ImportRow, { yard, scale }: ReadYardScale, seen: Map<string, number>): void {
  const once = (key: string, column: string, what: string) => {
    const first = seen.get(`${yard.id} ${key}`);
    if (first === undefined) seen.set(`${yard.id} ${key}`, line);
    else reader.problem(column, `${what} on line ${first} of this file already.`);
  };
  once(`name ${fold(scale.name)}`, 'name', `${shortly(scale.name)} of ${yard.name} is`);
  for (const family of scale.families) once(`family ${family}`, 'families', `${family} goes over another scale`);
}

/** A family goes over one scale only: what the ledger has over another is said to move. */
function noteMoved({ ledger, notes }: ImportJob, { line }: ImportRow, { yard, scale }: ReadYardScale): void {
  const before = yardScalesOf(ledger.db, yard.id);
  const moved = scale.families.flatMap((family: GradeFamily) => {
    const other = before.find(({ families }) => families.includes(family));
    return other === undefined ? [] : [`${family} goes over it and no longer over ${other.name}`];
  });
  if (moved.length > 0) notes.push({ line, sentence: `${scale.name}: ${moved.join(', ')}.` });
}

export const yardScales: ImportKind = {
  name: 'yard-scales',
  sentence: 'Further scales of yards, such as one for trucks, with the families of grades that go over them.',
  columns: ['yard', 'name', 'division', 'class', 'families'],
  optional: ['division', 'class', 'families'],
  words: ['scale of a yard', 'scales of yards'],
  run(job) {
    const seen = new Map<string, number>();
    const rowOf = new Map(job.rows.map((row) => [row.reader, row]));
    enterEach(
      job,
      {},
      (reader) => {
        const read = readRow(job.ledger, reader);
        const row = rowOf.get(reader);
        if (row !== undefined && !reader.hasProblems) refuseTwice(row, read, seen);
        return read;
      },
      (read, row) => {
        noteMoved(job, row, read);
        saveYardScale(job.ledger, read.yard.id, null, read.scale);
      },
    );
  },
};
