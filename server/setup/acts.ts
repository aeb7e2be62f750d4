import type { Insertable } from 'kysely';
import type { Ledger } from '../context.ts';
import { changeBetween, type Fields } from '../history/change.ts';
import { rowsBroughtIn } from '../history/queries.ts';
import {
  balanceOf,
  binAccount,
  deleteBin,
  findBin,
  findBinByCode,
  insertBin,
  isBinUsed,
  updateBin,
} from '../ledger/queries.ts';
import type { BinTable } from '../ledger/table.ts';
import { Refusal } from '../refusal.ts';
import { asPart, noteEvent } from '../trail.ts';
import { writeWeight } from '../units/write-weight.ts';
import { noteSettings, noteSetUp } from './change-notes.ts';
import {
  deleteYardScale,
  findContainer,
  findContainerByName,
  findGrade,
  findGradeByName,
  findScale,
  findScaleByName,
  findYard,
  findYardByName,
  findYardScaleByName,
  hasAmounts,
  insertContainer,
  insertGrade,
  insertScale,
  insertYard,
  insertYardScale,
  isLedgerEmpty,
  setYardGradeName,
  setYardScaleFamilies,
  storeHomeAddress,
  storeSettings,
  updateContainer,
  updateGrade,
  updateScale,
  updateYard,
  updateYardScale,
  type Yard,
  type YardScale,
  yardGradeNames,
  yardScalesOf,
} from './queries.ts';
import type { Settings } from './settings.ts';
import type { ContainerTable, GradeTable, ScaleTable, YardTable } from './table.ts';

/** A grade as a starter list or a file names it: the grade it falls back to is given by name. */
export interface GradeSeed extends Omit<Insertable<GradeTable>, 'id' | 'falls_back_to_id'> {
  fallsBackTo: string | null;
}

type Kept = { id: number } | undefined;

/** Names are told apart without regard to case; `id` is the row that may keep its own name. */
function refuseTakenName(found: Kept, id: number | null, field: string, name: string): void {
  if (found !== undefined && found.id !== id) {
    const other = field === 'code' ? 'another code' : 'another name';
    throw new Refusal('name_taken', field, `“${name}” is already in the ledger. Choose ${other}.`);
  }
}

function refuseFallbackCircle({ db }: Ledger, id: number, fallsBackToId: number | null): void {
  for (let next = fallsBackToId; next !== null; next = findGrade(db, next)?.falls_back_to_id ?? null) {
    if (next === id)
      throw new Refusal('in_use', 'fallsBackTo', 'These grades would fall back to each other in a circle.');
  }
}

/** A row before and after it was saved, as the trail keeps it. */
const saved = (before: object | null, after: object): { before: Fields | null; after: Fields } => ({
  before: before as Fields | null,
  after: after as Fields,
});

/** Adds a grade, or changes the one with `id`. @returns its id */
export function saveGrade(ledger: Ledger, id: number | null, grade: Insertable<GradeTable>): number {
  return ledger.db.transaction(() => {
    refuseTakenName(findGradeByName(ledger.db, grade.name), id, 'name', grade.name);
    const before = id === null ? null : (findGrade(ledger.db, id) ?? null);
    if (id !== null) refuseFallbackCircle(ledger, id, grade.falls_back_to_id ?? null);
    const savedId = id ?? insertGrade(ledger.db, grade);
    if (id !== null) updateGrade(ledger.db, id, grade);
    noteSetUp(ledger, { kind: 'grade', id: savedId, name: before?.name ?? grade.name, ...saved(before, grade) });
    return savedId;
  });
}

/** Adds a whole list of grades, then joins each to the grade it falls back to. */
export function addGrades(ledger: Ledger, grades: readonly GradeSeed[]): void {
  ledger.db.transaction(() => {
    const ids = new Map<string, number>();
    for (const { fallsBackTo: _, ...grade } of grades) {
      ids.set(grade.name.toLowerCase(), saveGrade(ledger, null, { ...grade, falls_back_to_id: null }));
    }
    for (const { name, fallsBackTo } of grades) {
      const id = ids.get(name.toLowerCase());
      const target = fallsBackTo === null ? undefined : ids.get(fallsBackTo.toLowerCase());
      if (id !== undefined && target !== undefined) updateGrade(ledger.db, id, { falls_back_to_id: target });
    }
  });
}

/**
 * Begins an empty ledger with a starter list. A ledger with content is left alone.
 * @param addMore adds what else belongs to the list and says what it was: "40 kinds of items"
 */
export function beginWithStarterList(
  ledger: Ledger,
  grades: readonly GradeSeed[],
  addMore: (part: Ledger) => string = () => '',
): void {
  ledger.db.transaction(() => {
    if (!isLedgerEmpty(ledger.db)) {
      throw new Refusal('ledger_not_empty', '', 'This ledger has grades already. Add more in Set-up.');
    }
    const [rows, more] = rowsBroughtIn(ledger.db, () => {
      addGrades(asPart(ledger), grades);
      return addMore(asPart(ledger));
    });
    const detail = [`${grades.length} grades`, more].filter((said) => said !== '').join(', ');
    noteEvent(ledger, 'began with the starter list', 'grade', 0, { detail, change: { rows } });
  });
}

export function saveContainer(ledger: Ledger, id: number | null, container: Insertable<ContainerTable>): number {
  return ledger.db.transaction(() => {
    refuseTakenName(findContainerByName(ledger.db, container.name), id, 'name', container.name);
    const before = id === null ? null : (findContainer(ledger.db, id) ?? null);
    const savedId = id ?? insertContainer(ledger.db, container);
    if (id !== null) updateContainer(ledger.db, id, container);
    const name = before?.name ?? container.name;
    noteSetUp(ledger, { kind: 'container', id: savedId, name, ...saved(before, container) });
    return savedId;
  });
}

export function saveScale(ledger: Ledger, id: number | null, scale: Insertable<ScaleTable>): number {
  return ledger.db.transaction(() => {
    refuseTakenName(findScaleByName(ledger.db, scale.name), id, 'name', scale.name);
    const before = id === null ? null : (findScale(ledger.db, id) ?? null);
    const savedId = id ?? insertScale(ledger.db, { ...scale, added_on: ledger.clock.today() });
    if (id !== null) updateScale(ledger.db, id, scale);
    noteSetUp(ledger, { kind: 'scale', id: savedId, name: before?.name ?? scale.name, ...saved(before, scale) });
    return savedId;
  });
}

export function saveYard(ledger: Ledger, id: number | null, yard: Insertable<YardTable>): number {
  return ledger.db.transaction(() => {
    refuseTakenName(findYardByName(ledger.db, yard.name), id, 'name', yard.name);
    const before = id === null ? null : (findYard(ledger.db, id) ?? null);
    if (before !== null && before.unit !== yard.unit) keepSteps(ledger, before, yard.unit);
    const savedId = id ?? insertYard(ledger.db, yard);
    if (id !== null) updateYard(ledger.db, id, yard);
    noteSetUp(ledger, { kind: 'yard', id: savedId, name: before?.name ?? yard.name, ...saved(before, yard) });
    return savedId;
  });
}

/**
 * The steps of a yard's further scales are kept as figures in the unit of its tickets, and with a unit where they have
 * another. When the unit of the tickets changes they stay what they are, and name their own or need no longer to.
 */
function keepSteps({ db }: Ledger, { id, unit }: Yard, nextUnit: string): void {
  for (const scale of yardScalesOf(db, id)) {
    if (scale.division === '') continue;
    const named = /[a-z]/.test(scale.division) ? scale.division : `${scale.division} ${unit}`;
    const division = named.endsWith(` ${nextUnit}`) ? named.slice(0, -nextUnit.length - 1) : named;
    updateYardScale(db, scale.id, { division });
  }
}

/** A further scale of a yard as a form or a file gives it. */
export type YardScaleInput = Pick<YardScale, 'name' | 'division' | 'class' | 'families'>;

/**
 * Adds a further scale to a yard, or changes the one with `id`. A family goes over one of them only: what is taken over
 * from another moves. @returns its id
 */
export function saveYardScale(ledger: Ledger, yardId: number, id: number | null, input: YardScaleInput): number {
  const { db } = ledger;
  return db.transaction(() => {
    const { families, ...scale } = input;
    refuseTakenName(findYardScaleByName(db, yardId, scale.name), id, 'name', scale.name);
    const before = yardScalesOf(db, yardId).find((other) => other.id === id) ?? null;
    const savedId = id ?? insertYardScale(db, { ...scale, yard_id: yardId });
    if (id !== null) updateYardScale(db, id, scale);
    setYardScaleFamilies(db, { id: savedId, yard_id: yardId }, families);
    noteSetUp(ledger, {
      kind: 'yard_scale',
      id: savedId,
      name: before?.name ?? scale.name,
      before: before === null ? null : yardScaleFields(before),
      after: yardScaleFields({ ...input, yard_id: yardId }),
    });
    return savedId;
  });
}

/** A further scale as the trail keeps it. */
export const yardScaleFields = ({
  yard_id,
  name,
  division,
  class: accuracy,
  families,
}: YardScaleInput & { yard_id: number }) => ({
  yard_id,
  name,
  division,
  class: accuracy,
  families: families.join(', '),
});

/** Removes a further scale of a yard; what went over it goes over the yard's usual one again. */
export function removeYardScale(ledger: Ledger, scale: YardScale): void {
  ledger.db.transaction(() => {
    deleteYardScale(ledger.db, scale.id);
    const { id, name } = scale;
    noteSetUp(ledger, { kind: 'yard_scale', id, name, before: yardScaleFields(scale), after: null });
  });
}

/** Sets the yard's own names for grades; an empty name takes one away. */
export function nameGradesAtYard(ledger: Ledger, yardId: number, names: ReadonlyMap<number, string>): void {
  const { db } = ledger;
  db.transaction(() => {
    const kept = yardGradeNames(db, yardId);
    const change = changeBetween(
      Object.fromEntries([...kept].map(([gradeId, name]) => [String(gradeId), name])),
      Object.fromEntries([...names].map(([gradeId, name]) => [String(gradeId), name === '' ? null : name])),
    );
    if (change === null) return;
    for (const [gradeId, name] of names) setYardGradeName(db, yardId, gradeId, name);
    const said = Object.keys(change.after).map((gradeId) => {
      const grade = findGrade(db, Number.parseInt(gradeId, 10))?.name ?? '';
      return `${grade}: ${change.before[gradeId] ?? 'none'} → ${change.after[gradeId] ?? 'none'}`;
    });
    noteEvent(ledger, 'named grades at a yard', 'yard_grade', yardId, { detail: said.join(', '), change });
  });
}

export function addBin(ledger: Ledger, bin: Insertable<BinTable>): number {
  return ledger.db.transaction(() => {
    refuseTakenName(findBinByCode(ledger.db, bin.code), null, 'code', bin.code);
    if (findGrade(ledger.db, bin.grade_id) === undefined) {
      throw new Refusal('not_found', 'grade', 'Choose a grade from the list.');
    }
    const id = insertBin(ledger.db, bin);
    noteSetUp(ledger, { kind: 'bin', id, name: bin.code, ...saved(null, bin) });
    return id;
  });
}

/** Changes a bin's code, place, container or full mark; its grade stays what it is. */
export function changeBin(ledger: Ledger, id: number, change: Parameters<typeof updateBin>[2]): void {
  ledger.db.transaction(() => {
    if (change.code !== undefined) refuseTakenName(findBinByCode(ledger.db, change.code), id, 'code', change.code);
    const before = findBin(ledger.db, id);
    if (before === undefined) throw new Refusal('not_found', '', 'There is no such bin.');
    updateBin(ledger.db, id, change);
    noteSetUp(ledger, { kind: 'bin', id, name: before.code, ...saved(before, change) });
  });
}

/** Closes an empty bin, so that it is no longer offered; its ledger stays. */
export function closeBin(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const { db, clock, settings } = ledger;
    const bin = findBin(db, id);
    if (bin === undefined) throw new Refusal('not_found', '', 'There is no such bin.');
    const held = balanceOf(db, binAccount(db, id), bin.grade_id);
    if (held !== 0) {
      const weight = writeWeight(held, settings.unit, settings.decimalMark);
      throw new Refusal(
        'bin_not_empty',
        '',
        `${bin.code} still holds ${weight}. Move it to another bin or recount first.`,
      );
    }
    updateBin(db, id, { closed_on: clock.today() });
    noteEvent(ledger, 'closed a bin', 'bin', id);
  });
}

/** Removes a bin that was named by mistake: only while nothing was ever weighed into it, put on a manifest or kept with it. */
export function removeBin(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const bin = findBin(ledger.db, id);
    if (bin === undefined) throw new Refusal('not_found', '', 'There is no such bin.');
    if (isBinUsed(ledger.db, id)) {
      throw new Refusal('in_use', '', `${bin.code} has a history, which stays. Close it instead.`);
    }
    deleteBin(ledger.db, id);
    const { account_id: _, grade_name: __, family: ___, mass_ug: ____, since_on: _____, ...row } = bin;
    noteSetUp(ledger, { kind: 'bin', id, name: bin.code, before: row, after: null });
  });
}

export function reopenBin(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    updateBin(ledger.db, id, { closed_on: null });
    noteEvent(ledger, 'opened a bin again', 'bin', id);
  });
}

export function changeSettings(ledger: Ledger, settings: Settings): void {
  ledger.db.transaction(() => {
    if (settings.currency !== ledger.settings.currency && hasAmounts(ledger.db)) {
      throw new Refusal('in_use', 'currency', 'Amounts are already written in this currency; a ledger keeps to one.');
    }
    storeSettings(ledger.db, settings);
    noteSettings(ledger, { ...ledger.settings }, { ...settings });
  });
}

/** Keeps the address that the codes on bin tags lead to, such as http://garage:4870. */
export function chooseHomeAddress(ledger: Ledger, address: string): void {
  ledger.db.transaction(() => {
    storeHomeAddress(ledger.db, address);
    noteEvent(ledger, 'chose the address for bin tags', 'setting', 0);
  });
}
