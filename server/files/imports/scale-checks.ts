import type { Ledger } from '../../context.ts';
import type { Reader } from '../../reading.ts';
import { type CheckInput, recordCheck } from '../../scales/acts.ts';
import { isFarOff, readCheck } from '../../scales/forms.ts';
import { standingChecks } from '../../scales/queries.ts';
import type { Scale } from '../../setup/queries.ts';
import { writeDay } from '../../units/day.ts';
import { noteRepeats, type Repeat } from './repeats.ts';
import { asTyped, enterEach, type ImportJob, type ImportKind, readAsForm, readScale } from './rows.ts';

const FIELDS = {
  checked_on: 'checkedOn',
  check_weight: 'weight',
  reading: 'reading',
  unit: 'unit',
  adjusted: 'isAdjusted',
  note: 'note',
};

function readRow(ledger: Ledger, reader: Reader): { scale: Scale; check: CheckInput } {
  const scale = readScale(ledger, reader, 'scale');
  if (!['', 'yes'].includes(reader.raw('adjusted').toLowerCase())) {
    reader.problem('adjusted', 'Write yes where the scale was adjusted after the check, else leave it empty.');
  }
  // Without its scale the rest of the row is read all the same, so that all its problems are said at once.
  const asScale = scale ?? { id: 0, unit: ledger.settings.unit };
  return { scale, check: readAsForm(reader, FIELDS, (form) => readCheck(form, asScale)) };
}

/** What 6 decimals of a file leave out is less than this in lb, kg, oz and g. */
const SAME_UG = 1000;

/** Tells of a row whether the same check stood in the ledger before the import, whatever the unit it is written in. */
function standingBefore({ ledger }: ImportJob): (check: CheckInput) => boolean {
  const standing = standingChecks(ledger.db);
  const isSame = (a: number, b: number) => Math.abs(a - b) < SAME_UG;
  return (check) =>
    standing.some(
      (other) =>
        other.scale_id === check.scaleId &&
        other.checked_on === check.checkedOn &&
        isSame(other.weight_ug, check.weightUg) &&
        isSame(other.reading_ug, check.readingUg),
    );
}

export const scaleChecks: ImportKind = {
  name: 'scale-checks',
  sentence:
    'Checks of your scales with a known weight: what was put on, what the scale showed, and whether it was adjusted.',
  columns: ['scale', 'checked_on', 'check_weight', 'reading', 'unit', 'adjusted', 'note'],
  optional: ['unit', 'adjusted', 'note'],
  words: ['check of a scale', 'checks of scales'],
  run(job) {
    const mark = job.ledger.settings.decimalMark;
    const isStanding = standingBefore(job);
    const repeats: Repeat[] = [];
    enterEach(
      job,
      { checkedOn: 'checked_on' },
      (reader) => readRow(job.ledger, reader),
      ({ scale, check }, { line }) => {
        const { weightTyped, readingTyped } = check;
        recordCheck(job.ledger, {
          ...check,
          weightTyped: asTyped(weightTyped, mark),
          readingTyped: asTyped(readingTyped, mark),
        });
        if (isFarOff(check)) {
          job.notes.push({
            line,
            sentence: `The reading is far from the check weight: ${scale.name} would be off by more than a fifth.`,
          });
        }
        if (!isStanding(check)) return;
        const sentence = `The same check of ${scale.name} on ${writeDay(check.checkedOn)} is in the ledger already.`;
        repeats.push({ line, sentence });
      },
    );
    noteRepeats(job, repeats);
  },
};
