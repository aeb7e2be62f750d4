import { type Insertable, type Selectable, sql, type Updateable } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { StrippingTable, WireKindTable, WireSampleTable } from './table.ts';

/** A kind of wire with the names of its two grades. */
export interface WireKind extends Selectable<WireKindTable> {
  grade_name: string;
  bare_grade_name: string;
}

const kinds = () =>
  build
    .selectFrom('wire_kind')
    .innerJoin('grade', 'grade.id', 'wire_kind.grade_id')
    .innerJoin('grade as bare', 'bare.id', 'wire_kind.bare_grade_id')
    .select(['wire_kind.id', 'wire_kind.name', 'wire_kind.grade_id', 'wire_kind.bare_grade_id', 'wire_kind.note'])
    .select(['grade.name as grade_name', 'bare.name as bare_grade_name']);

export const listWireKinds = (db: Db): WireKind[] => db.many(kinds().orderBy('wire_kind.name'));
export const findWireKind = (db: Db, id: number): WireKind | undefined =>
  db.maybe(kinds().where('wire_kind.id', '=', id));
export const findWireKindByName = (db: Db, name: string): WireKind | undefined =>
  db.maybe(kinds().where('wire_kind.name', '=', name.trim()));

export const insertWireKind = (db: Db, kind: Insertable<WireKindTable>): number =>
  db.run(build.insertInto('wire_kind').values(kind)).id;
export const updateWireKind = (db: Db, id: number, kind: Updateable<WireKindTable>): void => {
  db.run(build.updateTable('wire_kind').set(kind).where('id', '=', id));
};
export const deleteWireKind = (db: Db, id: number): void => {
  db.run(build.deleteFrom('wire_kind').where('id', '=', id));
};

/** A sample with whether it was taken back, by itself or with the lot that it was. */
export interface WireSample extends Selectable<WireSampleTable> {
  is_undone: number;
}

const sampleColumns = [
  'wire_sample.id',
  'wire_sample.wire_kind_id',
  'wire_sample.before_typed',
  'wire_sample.after_typed',
  'wire_sample.unit',
  'wire_sample.before_ug',
  'wire_sample.after_ug',
  'wire_sample.seconds',
  'wire_sample.sampled_on',
  'wire_sample.note',
  'wire_sample.recorded_at',
  'wire_sample.stripping_id',
] as const;

const isUndone = sql<number>`(
  exists (select 1 from wire_sample_undone where wire_sample_id = wire_sample.id)
  or exists (select 1 from transfer as posted join transfer as reversal on reversal.reverses_id = posted.id
    where posted.document_kind = 'stripping' and posted.document_id = wire_sample.stripping_id))`;

const samples = () =>
  build.selectFrom('wire_sample').select(sampleColumns).select(isUndone.as('is_undone')).orderBy('wire_sample.id');

/** Every sample of a kind, those taken back too, in the order they were written down. */
export const samplesOfKind = (db: Db, wireKindId: number): WireSample[] =>
  db.many(samples().where('wire_kind_id', '=', wireKindId));
export const findSample = (db: Db, id: number): WireSample | undefined =>
  db.maybe(samples().where('wire_sample.id', '=', id));

export const insertSample = (db: Db, sample: Insertable<WireSampleTable>): number => db.insert('wire_sample', sample);
export const insertSampleUndone = (db: Db, sampleId: number, recordedAt: string): void => {
  db.insert('wire_sample_undone', { wire_sample_id: sampleId, recorded_at: recordedAt });
};

export const insertStripping = (db: Db, stripping: Insertable<StrippingTable>): number =>
  db.insert('stripping', stripping);
