import type { Insertable } from 'kysely';
import type { Ledger } from '../context.ts';
import { isStillNamed } from '../db/trouble.ts';
import type { Fields } from '../history/change.ts';
import { rowsBroughtIn } from '../history/queries.ts';
import { Refusal } from '../refusal.ts';
import { noteSetUp } from '../setup/change-notes.ts';
import { findGradeByName } from '../setup/queries.ts';
import { asPart, noteEvent } from '../trail.ts';
import {
  deleteItemKind,
  findItemKind,
  findItemKindByName,
  type ItemKind,
  insertItemKind,
  type KindYield,
  setKindYields,
  updateItemKind,
} from './kind-queries.ts';
import type { ItemKindTable } from './table.ts';

/** A kind of item as a form or the starter list gives it. */
export interface ItemKindInput extends Required<Omit<Insertable<ItemKindTable>, 'id'>> {
  yields: readonly Pick<KindYield, 'grade_id' | 'percent'>[];
}

/** A kind of item as the starter list names it: cautions by key, grades by name. */
export interface StarterKind {
  name: string;
  cautions: readonly string[];
  /** The grade it is sold as when it is sold as is; null where there is no usual one. */
  asIs: string | null;
  /** Grade and percent of the weight, as a rule of thumb. */
  yields: readonly (readonly [grade: string, percent: string])[];
  note: string;
}

/** Adds a kind of item, or changes the one with `id`. Its rules of thumb are replaced whole. @returns its id */
export function saveItemKind(ledger: Ledger, id: number | null, input: ItemKindInput): number {
  const { db } = ledger;
  return db.transaction(() => {
    const { yields, ...kind } = input;
    const named = findItemKindByName(db, kind.name);
    if (named !== undefined && named.id !== id) {
      throw new Refusal('name_taken', 'name', `“${kind.name}” is already in the ledger. Choose another name.`);
    }
    const before = id === null ? null : (findItemKind(db, id) ?? null);
    const savedId = id ?? insertItemKind(db, kind);
    if (id !== null) updateItemKind(db, id, kind);
    setKindYields(db, savedId, yields);
    noteSetUp(ledger, {
      kind: 'item_kind',
      id: savedId,
      name: before?.name ?? kind.name,
      before: before === null ? null : itemKindFields(before),
      after: itemKindFields(input),
    });
    return savedId;
  });
}

/**
 * Adds the kinds of a list that the ledger does not have by name yet. A grade that was renamed or removed is left out.
 * @returns how many were added
 */
export function addStarterKinds(ledger: Ledger, starters: readonly StarterKind[]): number {
  const { db } = ledger;
  return db.transaction(() => {
    const missing = starters.filter(({ name }) => findItemKindByName(db, name) === undefined);
    for (const { name, cautions, asIs, yields, note } of missing) {
      saveItemKind(ledger, null, {
        name,
        cautions: cautions.join(','),
        as_is_grade_id: (asIs && findGradeByName(db, asIs)?.id) || null,
        rule_minutes: '',
        note,
        yields: yields.flatMap(([grade, percent]) => {
          const found = findGradeByName(db, grade);
          return found === undefined ? [] : [{ grade_id: found.id, percent }];
        }),
      });
    }
    return missing.length;
  });
}

/** Adds what is missing of the starter kinds, with one line of the trail by which all of them can be taken back. */
export function addMissingStarterKinds(ledger: Ledger, starters: readonly StarterKind[]): void {
  ledger.db.transaction(() => {
    const [rows, count] = rowsBroughtIn(ledger.db, () => addStarterKinds(asPart(ledger), starters));
    if (count === 0) throw new Refusal('name_taken', '', 'All the starter kinds are in the ledger already.');
    noteEvent(ledger, 'added the starter kinds', 'item_kind', 0, {
      detail: `${count} kinds of items`,
      change: { rows },
    });
  });
}

/** Removes a kind that was added by mistake: only while no item is of it. */
export function removeItemKind(ledger: Ledger, id: number): void {
  const { db } = ledger;
  db.transaction(() => {
    const kind = findItemKind(db, id);
    if (kind === undefined) throw new Refusal('not_found', '', 'There is no such kind of item.');
    try {
      db.savepoint(() => deleteItemKind(db, id));
    } catch (error) {
      if (!isStillNamed(error)) throw error;
      throw new Refusal('in_use', '', `${kind.name} stays, because it is in use: an item is of this kind.`);
    }
    noteSetUp(ledger, { kind: 'item_kind', id, name: kind.name, before: itemKindFields(kind), after: null });
  });
}

/** A kind of item as the trail keeps it; its rules of thumb as "12=40, 15=5", grade and percent. */
export const itemKindFields = ({ yields, ...kind }: ItemKindInput | ItemKind): Fields => ({
  name: kind.name,
  cautions: kind.cautions,
  as_is_grade_id: kind.as_is_grade_id,
  rule_minutes: kind.rule_minutes,
  yields: yields
    .toSorted((a, b) => a.grade_id - b.grade_id)
    .map(({ grade_id, percent }) => `${grade_id}=${percent}`)
    .join(', '),
  note: kind.note,
});

/** A kind of item out of what the trail kept of it. */
export function itemKindOfFields(fields: Fields): ItemKindInput {
  const text = (name: string): string => String(fields[name] ?? '');
  const pairs = text('yields')
    .split(', ')
    .filter((pair) => pair !== '');
  return {
    name: text('name'),
    cautions: text('cautions'),
    as_is_grade_id: typeof fields.as_is_grade_id === 'number' ? fields.as_is_grade_id : null,
    rule_minutes: text('rule_minutes'),
    note: text('note'),
    yields: pairs.map((pair) => {
      const [gradeId = '', percent = ''] = pair.split('=');
      return { grade_id: Number.parseInt(gradeId, 10), percent };
    }),
  };
}
