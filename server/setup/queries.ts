import { type Insertable, type Selectable, sql, type Updateable } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import { type GradeFamily, gradeFamilies } from '../ledger/families.ts';
import { isCurrency } from '../money/currencies.ts';
import type { AmountMinor } from '../money/money.ts';
import { isMassUnit } from '../units/mass.ts';
import { defaultSettings, type Settings } from './settings.ts';
import type { ContainerTable, GradeTable, ScaleTable, YardScaleTable, YardTable } from './table.ts';

export type Grade = Selectable<GradeTable>;
export type Container = Selectable<ContainerTable>;
export type Scale = Selectable<ScaleTable>;
export type Yard = Selectable<YardTable>;

const allSettings = writtenOnce(() => build.selectFrom('setting').select(['name', 'value']));

export function readSettings(db: Db): Settings {
  const rows = db.many(allSettings());
  const value = (name: string) => rows.find((row) => row.name === name)?.value ?? '';
  const days = (name: string, usual: number) => Number.parseInt(value(name) || String(usual), 10);
  const unit = value('unit');
  const currency = value('currency');
  const wastePer = value('waste_per');
  return {
    unit: isMassUnit(unit) ? unit : defaultSettings.unit,
    currency: isCurrency(currency) ? currency : defaultSettings.currency,
    decimalMark: value('decimal_mark') === ',' ? ',' : '.',
    staleQuoteDays: days('stale_quote_days', defaultSettings.staleQuoteDays),
    scaleCheckDays: days('scale_check_days', defaultSettings.scaleCheckDays),
    wage: value('wage'),
    wasteCost: value('waste_cost'),
    wastePer: isMassUnit(wastePer) ? wastePer : defaultSettings.wastePer,
  };
}

const HOME_ADDRESS = 'home_address';

/** The address that codes on tags lead to, such as http://garage:4870; undefined while none was chosen. */
export const findHomeAddress = (db: Db): string | undefined =>
  db.maybe(build.selectFrom('setting').select('value').where('name', '=', HOME_ADDRESS))?.value;
export const storeHomeAddress = (db: Db, address: string): void => storeSetting(db, HOME_ADDRESS, address);

/** Stores one setting of the ledger under its name. */
export function storeSetting(db: Db, name: string, value: string): void {
  db.run(
    build
      .insertInto('setting')
      .values({ name, value })
      .onConflict((conflict) => conflict.column('name').doUpdateSet({ value })),
  );
}

export function storeSettings(db: Db, settings: Settings): void {
  const values: Record<string, string> = {
    unit: settings.unit,
    currency: settings.currency,
    decimal_mark: settings.decimalMark,
    stale_quote_days: String(settings.staleQuoteDays),
    scale_check_days: String(settings.scaleCheckDays),
    wage: settings.wage,
    waste_cost: settings.wasteCost,
    waste_per: settings.wastePer,
  };
  for (const [name, value] of Object.entries(values)) storeSetting(db, name, value);
}

const anySetUp = writtenOnce(
  () => sql<{ is_there: number }>`select exists (select 1 from grade) or exists (select 1 from yard) as is_there`,
);

/** True while nothing was set up: the first page then offers how to begin. */
export const isLedgerEmpty = (db: Db): boolean => db.one(anySetUp()).is_there === 0;

/** True once any money was written down; from then on the currency stays. */
export function hasAmounts(db: Db): boolean {
  const quote = db.maybe(build.selectFrom('quote').select('id').limit(1));
  const ticketLine = db.maybe(build.selectFrom('ticket_line').select('id').limit(1));
  const total = db.maybe(build.selectFrom('ticket_total').select('ticket_id').limit(1));
  const priced = db.maybe(build.selectFrom('manifest_line').select('id').where('price', 'is not', null).limit(1));
  const sale = db.maybe(build.selectFrom('part_sale').select('id').limit(1));
  const paidFor = db.maybe(
    build
      .selectFrom('item')
      .select('id')
      .where((item) =>
        item.or([item('cost_minor', '>', 0 as AmountMinor), item('disposal_minor', '>', 0 as AmountMinor)]),
      )
      .limit(1),
  );
  return [quote, ticketLine, total, priced, sale, paidFor].some((row) => row !== undefined);
}

export interface SetUpCounts {
  grades: number;
  openBins: number;
  containers: number;
  scales: number;
  yards: number;
  itemKinds: number;
  /** 1 when any price was ever written down, else 0: counting them all would read the whole history. */
  anyQuote: number;
}

/** How far the set-up has come. */
export const countSetUp = (db: Db): SetUpCounts =>
  db.one(
    sql<SetUpCounts>`select
      (select count(*) from grade) as grades,
      (select count(*) from bin where closed_on is null) as openBins,
      (select count(*) from container) as containers,
      (select count(*) from scale) as scales,
      (select count(*) from yard) as yards,
      (select count(*) from item_kind) as itemKinds,
      exists (select 1 from quote) as anyQuote`,
  );

const gradeColumns = [
  'id',
  'name',
  'family',
  'quoted_per',
  'code',
  'falls_back_to_id',
  'recognise',
  'spoiled_by',
] as const;

const allGrades = writtenOnce(() => build.selectFrom('grade').select(gradeColumns).orderBy('id'));
const gradeById = writtenOnce(() => build.selectFrom('grade').select(gradeColumns).where('id', '=', 0));

export const listGrades = (db: Db): Grade[] => db.many(allGrades());
export const findGrade = (db: Db, id: number): Grade | undefined => db.maybe(gradeById(id));
const gradeByName = writtenOnce(() => build.selectFrom('grade').select(gradeColumns).where('name', '=', ''));
export const findGradeByName = (db: Db, name: string): Grade | undefined => db.maybe(gradeByName(name.trim()));
export const insertGrade = (db: Db, grade: Insertable<GradeTable>): number =>
  db.run(build.insertInto('grade').values(grade)).id;
export const updateGrade = (db: Db, id: number, grade: Updateable<GradeTable>): void => {
  db.run(build.updateTable('grade').set(grade).where('id', '=', id));
};

export const deleteGrade = (db: Db, id: number): void => {
  db.run(build.deleteFrom('grade').where('id', '=', id));
};

const containerColumns = ['id', 'name', 'tare_typed', 'tare_ug'] as const;

const allContainers = writtenOnce(() => build.selectFrom('container').select(containerColumns).orderBy('name'));
const containerById = writtenOnce(() => build.selectFrom('container').select(containerColumns).where('id', '=', 0));

export const listContainers = (db: Db): Container[] => db.many(allContainers());
export const findContainer = (db: Db, id: number): Container | undefined => db.maybe(containerById(id));
const containerByName = writtenOnce(() =>
  build.selectFrom('container').select(containerColumns).where('name', '=', ''),
);
export const findContainerByName = (db: Db, name: string): Container | undefined =>
  db.maybe(containerByName(name.trim()));
export const insertContainer = (db: Db, container: Insertable<ContainerTable>): number =>
  db.run(build.insertInto('container').values(container)).id;
export const updateContainer = (db: Db, id: number, container: Updateable<ContainerTable>): void => {
  db.run(build.updateTable('container').set(container).where('id', '=', id));
};

export const deleteContainer = (db: Db, id: number): void => {
  db.run(build.deleteFrom('container').where('id', '=', id));
};

const scaleColumns = ['id', 'name', 'division', 'unit', 'class', 'tolerance', 'capacity', 'added_on'] as const;

const allScales = writtenOnce(() => build.selectFrom('scale').select(scaleColumns).orderBy('id'));
const scaleById = writtenOnce(() => build.selectFrom('scale').select(scaleColumns).where('id', '=', 0));

export const listScales = (db: Db): Scale[] => db.many(allScales());
export const findScale = (db: Db, id: number): Scale | undefined => db.maybe(scaleById(id));
const scaleByName = writtenOnce(() => build.selectFrom('scale').select(scaleColumns).where('name', '=', ''));
export const findScaleByName = (db: Db, name: string): Scale | undefined => db.maybe(scaleByName(name.trim()));
export const insertScale = (db: Db, scale: Insertable<ScaleTable>): number =>
  db.run(build.insertInto('scale').values(scale)).id;
export const updateScale = (db: Db, id: number, scale: Updateable<ScaleTable>): void => {
  db.run(build.updateTable('scale').set(scale).where('id', '=', id));
};

export const deleteScale = (db: Db, id: number): void => {
  db.run(build.deleteFrom('scale').where('id', '=', id));
};

const yardColumns = ['id', 'name', 'unit', 'cash_step_minor', 'scale_division', 'scale_class', 'notes'] as const;

const allYards = writtenOnce(() => build.selectFrom('yard').select(yardColumns).orderBy('id'));
const yardById = writtenOnce(() => build.selectFrom('yard').select(yardColumns).where('id', '=', 0));

export const listYards = (db: Db): Yard[] => db.many(allYards());
export const findYard = (db: Db, id: number): Yard | undefined => db.maybe(yardById(id));
const yardByName = writtenOnce(() => build.selectFrom('yard').select(yardColumns).where('name', '=', ''));
export const findYardByName = (db: Db, name: string): Yard | undefined => db.maybe(yardByName(name.trim()));
export const insertYard = (db: Db, yard: Insertable<YardTable>): number =>
  db.run(build.insertInto('yard').values(yard)).id;
export const updateYard = (db: Db, id: number, yard: Updateable<YardTable>): void => {
  db.run(build.updateTable('yard').set(yard).where('id', '=', id));
};

export const deleteYard = (db: Db, id: number): void => {
  db.run(build.deleteFrom('yard').where('id', '=', id));
};

/** The yard's own names for grades, by grade id. */
export function yardGradeNames(db: Db, yardId: number): Map<number, string> {
  const rows = db.many(build.selectFrom('yard_grade').select(['grade_id', 'name']).where('yard_id', '=', yardId));
  return new Map(rows.map((row) => [row.grade_id, row.name]));
}

/** Sets or, with an empty name, removes the yard's own name for a grade. */
export function setYardGradeName(db: Db, yardId: number, gradeId: number, name: string): void {
  if (name === '') {
    db.run(build.deleteFrom('yard_grade').where('yard_id', '=', yardId).where('grade_id', '=', gradeId));
    return;
  }
  db.run(
    build
      .insertInto('yard_grade')
      .values({ yard_id: yardId, grade_id: gradeId, name })
      .onConflict((conflict) => conflict.columns(['yard_id', 'grade_id']).doUpdateSet({ name })),
  );
}

/** A further scale of a yard with the families of grades that go over it, in the families' order. */
export interface YardScale extends Selectable<YardScaleTable> {
  families: GradeFamily[];
}

const yardScaleColumns = ['id', 'yard_id', 'name', 'division', 'class'] as const;
const yardScales = () => build.selectFrom('yard_scale').select(yardScaleColumns).orderBy('yard_id').orderBy('id');

/** Adds to each scale what goes over it, of the families of all yards or of one. */
function withFamilies(
  scales: readonly Selectable<YardScaleTable>[],
  rows: readonly { family: GradeFamily; yard_scale_id: number }[],
): YardScale[] {
  return scales.map((scale) => {
    const own = new Set(rows.filter((row) => row.yard_scale_id === scale.id).map((row) => row.family));
    return { ...scale, families: gradeFamilies.filter((family) => own.has(family)) };
  });
}

const yardScaleFamilies = () => build.selectFrom('yard_scale_family').select(['family', 'yard_scale_id']);

/** The further scales of every yard, by yard, then in the order they were added. */
export const listYardScales = (db: Db): YardScale[] =>
  withFamilies(db.many(yardScales()), db.many(yardScaleFamilies()));
/** The further scales of one yard, in the order they were added. */
export const yardScalesOf = (db: Db, yardId: number): YardScale[] =>
  withFamilies(
    db.many(yardScales().where('yard_id', '=', yardId)),
    db.many(yardScaleFamilies().where('yard_id', '=', yardId)),
  );

export const findYardScale = (db: Db, id: number): YardScale | undefined =>
  listYardScales(db).find((scale) => scale.id === id);
export const findYardScaleByName = (db: Db, yardId: number, name: string): { id: number } | undefined =>
  db.maybe(yardScales().where('yard_id', '=', yardId).where('name', '=', name.trim()));
export const insertYardScale = (db: Db, scale: Insertable<YardScaleTable>): number =>
  db.run(build.insertInto('yard_scale').values(scale)).id;
export const updateYardScale = (db: Db, id: number, scale: Updateable<YardScaleTable>): void => {
  db.run(build.updateTable('yard_scale').set(scale).where('id', '=', id));
};
/** Removes a further scale; what went over it goes over the yard's usual one again. */
export const deleteYardScale = (db: Db, id: number): void => {
  db.run(build.deleteFrom('yard_scale').where('id', '=', id));
};

/** Sets what goes over a further scale; a family that went over another of the same yard moves. */
export function setYardScaleFamilies(db: Db, scale: { id: number; yard_id: number }, families: GradeFamily[]): void {
  db.run(build.deleteFrom('yard_scale_family').where('yard_scale_id', '=', scale.id));
  for (const family of families) {
    db.run(build.deleteFrom('yard_scale_family').where('yard_id', '=', scale.yard_id).where('family', '=', family));
    db.run(build.insertInto('yard_scale_family').values({ yard_id: scale.yard_id, family, yard_scale_id: scale.id }));
  }
}
