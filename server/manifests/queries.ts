import type { Insertable, Selectable, Updateable } from 'kysely';
import { sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { GradeFamily } from '../ledger/families.ts';
import type { AmountMinor } from '../money/money.ts';
import type { Day } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';
import type { LoadReturnTable, ManifestLineTable, ManifestStatus, ManifestTable } from './table.ts';

export type Manifest = Selectable<ManifestTable> & { yard_name: string };
export type ManifestLine = Selectable<ManifestLineTable>;

/** A load with what a page needs to name it. */
export interface Load extends ManifestLine {
  bin_code: string;
  grade_id: number;
  grade_name: string;
  family: GradeFamily;
  container_name: string | null;
  scale_name: string | null;
  /** The return that stands, when the load was brought back. */
  load_return_id: number | null;
  /** 1 when that return says that the loading was a mistake. */
  undoes_loading: number | null;
  returned_on: Day | null;
  return_reason: string | null;
}

const manifests = () =>
  build
    .selectFrom('manifest')
    .innerJoin('yard', 'yard.id', 'manifest.yard_id')
    .select(['manifest.id', 'manifest.yard_id', 'manifest.number', 'manifest.status'])
    .select(['manifest.drafted_on', 'manifest.loaded_on', 'manifest.note', 'yard.name as yard_name']);

const manifestById = writtenOnce(() => manifests().where('manifest.id', '=', 0));
export const findManifest = (db: Db, id: number): Manifest | undefined => db.maybe(manifestById(id));
const manifestByNumber = writtenOnce(() =>
  manifests().where('manifest.yard_id', '=', 0).where('manifest.number', '=', ''),
);
export const findManifestByNumber = (db: Db, yardId: number, number: string): Manifest | undefined =>
  db.maybe(manifestByNumber(yardId, number.trim()));
const manifestsByStatus = writtenOnce(() =>
  manifests().where('manifest.status', '=', 'draft').orderBy('manifest.id', 'desc'),
);
export const manifestsWithStatus = (db: Db, status: ManifestStatus): Manifest[] => db.many(manifestsByStatus(status));

/** A manifest in a list, with its sums. */
export interface ManifestSummary extends Manifest {
  loads: number;
  mass_ug: MassUg | null;
  expected_minor: AmountMinor | null;
}

export interface ManifestFilter {
  yardId: number | null;
  /** Of the bins that are on it. */
  gradeId: number | null;
  status: ManifestStatus | null;
  /** A part of the number; '' for any. */
  number: string;
  /** The day it was loaded, or, of one that was not, the day it was drafted. */
  from: Day | null;
  to: Day | null;
}

const dayOfManifest = sql<Day>`coalesce(manifest.loaded_on, manifest.drafted_on)`;

/** A page of manifests, newest first. */
export function listManifests(
  db: Db,
  filter: Partial<ManifestFilter>,
  offset: number,
  count: number,
): ManifestSummary[] {
  const { yardId = null, gradeId = null, status = null, number = '', from = null, to = null } = filter;
  let query = manifests()
    .select((eb) => [
      eb
        .selectFrom('manifest_line')
        .select((inner) => inner.fn.countAll<number>().as('loads'))
        .whereRef('manifest_line.manifest_id', '=', 'manifest.id')
        .$asScalar()
        .$notNull()
        .as('loads'),
      eb
        .selectFrom('manifest_line')
        .select((inner) => inner.fn.sum<MassUg>('mass_ug').as('mass_ug'))
        .whereRef('manifest_line.manifest_id', '=', 'manifest.id')
        .as('mass_ug'),
      eb
        .selectFrom('manifest_line')
        .select((inner) => inner.fn.sum<AmountMinor>('expected_minor').as('expected_minor'))
        .whereRef('manifest_line.manifest_id', '=', 'manifest.id')
        .as('expected_minor'),
    ])
    .orderBy('manifest.id', 'desc')
    .limit(count)
    .offset(offset);
  if (yardId !== null) query = query.where('manifest.yard_id', '=', yardId);
  if (status !== null) query = query.where('manifest.status', '=', status);
  if (from !== null) query = query.where(dayOfManifest, '>=', from);
  if (to !== null) query = query.where(dayOfManifest, '<=', to);
  // Searched as text: a number may well hold the signs that LIKE reads as wildcards.
  if (number !== '') query = query.where(sql<number>`instr(lower(manifest.number), lower(${number}))`, '>', 0);
  if (gradeId !== null) {
    query = query.where('manifest.id', 'in', (eb) =>
      eb
        .selectFrom('manifest_line')
        .innerJoin('bin', 'bin.id', 'manifest_line.bin_id')
        .select('manifest_line.manifest_id')
        .where('bin.grade_id', '=', gradeId),
    );
  }
  return db.many(query);
}

/** The numbers in use at any yard: new ones go on across yards, so that "manifest 12" is one manifest. */
export const manifestNumbers = (db: Db): string[] =>
  db.many(build.selectFrom('manifest').select('number')).map((row) => row.number);

const lineColumns = [
  'manifest_line.id',
  'manifest_line.manifest_id',
  'manifest_line.label',
  'manifest_line.bin_id',
  'manifest_line.weighed',
  'manifest_line.empties_bin',
  'manifest_line.container_id',
  'manifest_line.scale_id',
  'manifest_line.gross_typed',
  'manifest_line.tare_typed',
  'manifest_line.net_typed',
  'manifest_line.unit',
  'manifest_line.mass_ug',
  'manifest_line.price',
  'manifest_line.per',
  'manifest_line.seen_on',
  'manifest_line.expected_minor',
] as const;

const standingReturn = sql<number | null>`(
  select back.id from load_return as back
  left join load_return_undone on load_return_undone.load_return_id = back.id
  where back.manifest_line_id = manifest_line.id and load_return_undone.load_return_id is null)`;

const loads = () =>
  build
    .selectFrom('manifest_line')
    .innerJoin('bin', 'bin.id', 'manifest_line.bin_id')
    .innerJoin('grade', 'grade.id', 'bin.grade_id')
    .leftJoin('container', 'container.id', 'manifest_line.container_id')
    .leftJoin('scale', 'scale.id', 'manifest_line.scale_id')
    .leftJoin('load_return', (join) => join.on('load_return.id', '=', standingReturn))
    .select(lineColumns)
    .select(['bin.code as bin_code', 'bin.grade_id', 'grade.name as grade_name', 'grade.family'])
    .select(['container.name as container_name', 'scale.name as scale_name', 'load_return.id as load_return_id'])
    .select(['load_return.returned_on', 'load_return.reason as return_reason', 'load_return.undoes_loading']);

const loadsByManifest = writtenOnce(() =>
  loads().where('manifest_line.manifest_id', '=', 0).orderBy('manifest_line.id'),
);
export const loadsOf = (db: Db, manifestId: number): Load[] => db.many(loadsByManifest(manifestId));
const loadById = writtenOnce(() => loads().where('manifest_line.id', '=', 0));
export const findLoad = (db: Db, id: number): Load | undefined => db.maybe(loadById(id));

export const insertManifest = (db: Db, manifest: Insertable<ManifestTable>): number => db.insert('manifest', manifest);
export const updateManifest = (
  db: Db,
  id: number,
  change: Partial<Pick<Manifest, 'status' | 'loaded_on' | 'note'>>,
): void => {
  db.run(build.updateTable('manifest').set(change).where('id', '=', id));
};
export const insertManifestLine = (db: Db, line: Insertable<ManifestLineTable>): number =>
  db.insert('manifest_line', line);
export const updateManifestLine = (db: Db, id: number, change: Updateable<ManifestLineTable>): void => {
  db.run(build.updateTable('manifest_line').set(change).where('id', '=', id));
};
export const deleteManifestLine = (db: Db, id: number): void => {
  db.run(build.deleteFrom('manifest_line').where('id', '=', id));
};

export const insertLoadReturn = (db: Db, loadReturn: Insertable<LoadReturnTable>): number =>
  db.run(build.insertInto('load_return').values(loadReturn)).id;
export const insertLoadReturnUndone = (db: Db, loadReturnId: number, now: string): void => {
  db.run(build.insertInto('load_return_undone').values({ load_return_id: loadReturnId, recorded_at: now }));
};
