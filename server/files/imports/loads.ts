import type { Ledger } from '../../context.ts';
import { openBin, refuseFuture } from '../../ledger/acts.ts';
import { findBinByCode, soleAccount } from '../../ledger/queries.ts';
import { standingTransfers } from '../../ledger/transfers.ts';
import { recordLoadedManifest } from '../../manifests/loading.ts';
import { findManifestByNumber, loadsOf } from '../../manifests/queries.ts';
import type { Reader } from '../../reading.ts';
import { sumMass } from '../../units/mass.ts';
import { writeWeight, writeWeightFigure } from '../../units/write-weight.ts';
import { fold } from '../compute.ts';
import {
  asTyped,
  attempt,
  attemptRefusedFirst,
  groupRows,
  type ImportJob,
  type ImportKind,
  type ImportRow,
  readBin,
  readYard,
} from './rows.ts';

/** Written in the place of a price when there was no quote by the day of loading, though there is one in the ledger now. */
export const NO_QUOTE = 'none';
const LONGEST_LABEL = 20;
/** More than a vehicle carries in containers: the page and the paper of a manifest show all of its loads. */
const MOST_LOADS = 400;

/** A label has no place for what parts labels in a list. */
function readLabel(reader: Reader): string {
  const label = reader.text('load', 'a label such as A', { required: true, longest: LONGEST_LABEL });
  if (/[;,]/.test(label)) reader.problem('load', 'A label has no comma and no semicolon in it.');
  return label;
}

/** The price the yard had quoted: both cells, or neither for the quote of that day, or `none`. */
function readQuoted(reader: Reader) {
  const [price, per] = [reader.raw('quoted_price'), reader.raw('quoted_per')];
  const isUnquoted = fold(price) === NO_QUOTE;
  if (price === '' || isUnquoted) {
    if (per !== '') reader.problem('quoted_price', 'Enter the price that goes with this unit, or leave both empty.');
    return { price: null, per: null, isUnquoted };
  }
  return { price: reader.price('quoted_price'), per: reader.priceUnit('quoted_per'), isUnquoted };
}

function readRow(ledger: Ledger, row: ImportRow) {
  const { reader } = row;
  const bin = readBin(ledger, reader, findBinByCode);
  if (bin !== undefined) attemptRefusedFirst(ledger, row, {}, () => openBin(ledger, bin.id));
  const loadedOn = reader.day('loaded_on');
  if (loadedOn !== undefined) attemptRefusedFirst(ledger, row, {}, () => refuseFuture(ledger, loadedOn, 'loaded_on'));
  const unit = reader.massUnit('unit');
  return {
    row,
    yard: readYard(ledger, reader),
    manifest: reader.text('manifest', 'the number of the manifest', { required: true }),
    loadedOn,
    label: readLabel(reader),
    bin,
    unit,
    net: reader.weight('net', { unit }),
    ...readQuoted(reader),
  };
}

type ReadLoad = ReturnType<typeof readRow>;

/** The rows of one manifest agree on its day, and each has a label of its own. */
function checkGroup({ db }: Ledger, group: readonly ReadLoad[]): void {
  const [first] = group;
  if (first === undefined) return;
  if (group.length > MOST_LOADS) {
    const say = `Manifest ${first.manifest} has ${group.length} loads here; one manifest can have at most ${MOST_LOADS}.`;
    first.row.reader.problem('manifest', say);
  }
  if (findManifestByNumber(db, first.yard.id, first.manifest) !== undefined) {
    const say = `Manifest ${first.manifest} of ${first.yard.name} is in the ledger already.`;
    first.row.reader.problem('manifest', say);
  }
  const lines = new Map<string, number>();
  for (const { row, label, loadedOn } of group) {
    if (loadedOn !== first.loadedOn && first.loadedOn !== undefined) {
      row.reader.problem(
        'loaded_on',
        `Manifest ${first.manifest} was loaded on another day on line ${first.row.line}.`,
      );
    }
    const before = lines.get(label);
    if (before !== undefined)
      row.reader.problem('load', `Load ${label} of this manifest is on line ${before} already.`);
    else if (label !== '') lines.set(label, row.line);
  }
}

function enterManifest({ ledger, notes }: ImportJob, group: readonly ReadLoad[], first: ReadLoad): void {
  const { db, settings } = ledger;
  const manifestId = recordLoadedManifest(ledger, {
    yardId: first.yard.id,
    number: first.manifest,
    loadedOn: first.loadedOn,
    loads: group.map(({ label, bin, net, unit, price, per, isUnquoted }) => ({
      label,
      binId: bin.id,
      netTyped: asTyped(net.typed, settings.decimalMark),
      unit,
      massUg: net.massUg,
      price,
      per,
      isUnquoted,
    })),
  });
  const counted = soleAccount(db, 'count_difference');
  const stored = loadsOf(db, manifestId);
  for (const { row, label, bin, unit } of group) {
    const load = stored.find((candidate) => candidate.label === label);
    if (load === undefined) continue;
    const booked = standingTransfers(db, 'manifest_line', load.id).filter((each) => each.from_account_id === counted);
    const above = sumMass(booked.map((transfer) => transfer.mass_ug));
    // Weighings in pounds are whole micrograms each; what adds up to less than the figures show is no difference.
    if (/^0([.,]0+)?$/.test(writeWeightFigure(above, unit, settings.decimalMark))) continue;
    const weight = writeWeight(above, unit, settings.decimalMark);
    const sentence = `${weight} more than the book has in ${bin.code}: booked as a count difference.`;
    notes.push({ line: row.line, sentence });
  }
}

export const loads: ImportKind = {
  name: 'loads',
  sentence: 'What was loaded for a yard, one row for each load of a manifest. Without a price: the quote of that day.',
  columns: ['yard', 'manifest', 'loaded_on', 'load', 'bin', 'net', 'unit', 'quoted_price', 'quoted_per'],
  optional: ['quoted_price', 'quoted_per'],
  words: ['load', 'loads'],
  run(job) {
    const rows = job.rows.map((row) => readRow(job.ledger, row));
    const groups = groupRows(rows, ({ yard, manifest }) =>
      yard === undefined || manifest === '' ? null : `${yard.id} ${fold(manifest)}`,
    );
    for (const group of groups) {
      checkGroup(job.ledger, group);
      const [first] = group;
      if (first === undefined || group.some(({ row }) => row.reader.hasProblems)) continue;
      attempt(job.ledger, first.row, { loadedOn: 'loaded_on' }, () => enterManifest(job, group, first));
    }
  },
};
