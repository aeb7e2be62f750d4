import type { Insertable } from 'kysely';
import { removeWireKind, saveWireKind, wireKindFields } from '../bench/acts.ts';
import type { WireKindTable } from '../bench/table.ts';
import type { Ledger } from '../context.ts';
import { isStillNamed } from '../db/trouble.ts';
import { addItem, changeItem, type ItemRow, removeItem } from '../items/acts.ts';
import { itemKindFields, itemKindOfFields, removeItemKind, saveItemKind } from '../items/kind-acts.ts';
import { findItemKind } from '../items/kind-queries.ts';
import { findItem } from '../items/queries.ts';
import type { GradeFamily } from '../ledger/families.ts';
import { findBin } from '../ledger/queries.ts';
import type { BinTable } from '../ledger/table.ts';
import { Refusal } from '../refusal.ts';
import {
  addBin,
  changeBin,
  changeSettings,
  nameGradesAtYard,
  removeBin,
  removeYardScale,
  saveContainer,
  saveGrade,
  saveScale,
  saveYard,
  saveYardScale,
  type YardScaleInput,
  yardScaleFields,
} from '../setup/acts.ts';
import {
  findContainer,
  findGrade,
  findScale,
  findYard,
  findYardScale,
  type YardScale,
  yardGradeNames,
} from '../setup/queries.ts';
import { removeContainer, removeGrade, removeScale, removeYard } from '../setup/removals.ts';
import type { Settings } from '../setup/settings.ts';
import type { ContainerTable, GradeTable, ScaleTable, YardTable } from '../setup/table.ts';
import { changeBetween, type Fields, type FieldsChange } from './change.ts';
import { isIdGivenAgain, type TrailEvent } from './queries.ts';

/** How a kind of row of the set-up is put back. Fields come as an act kept them, so they fit their row. */
interface Restorer {
  /** The row as it is now; undefined when it is gone. */
  find(ledger: Ledger, id: number): Fields | undefined;
  /** Saves a whole row: under its id, or as a new one. */
  save(ledger: Ledger, id: number | null, row: Fields): void;
  remove(ledger: Ledger, id: number): void;
}

/** A row without its own id, as an act takes it. */
function withoutId<Row>(row: Fields): Row {
  const { id: _, ...rest } = row;
  return rest as Row;
}

/** A row read for a form or an act, as plain fields. */
const fieldsOf = (row: object | undefined): Fields | undefined =>
  row === undefined ? undefined : ({ ...row } as Fields);

const yardScaleOf = ({ db }: Ledger, id: number): YardScale => {
  const scale = findYardScale(db, id);
  if (scale === undefined) throw new Refusal('not_found', '', 'There is no such scale of a yard any more.');
  return scale;
};

const ITEM_COLUMNS = [
  'item_kind_id',
  'name',
  'picked_up_on',
  'got',
  'source',
  'proof',
  'cost_minor',
  'weight_typed',
  'weight_unit',
  'weight_ug',
  'note',
  'status',
  'depth',
  'closed_on',
  'disposal_minor',
] as const satisfies readonly (keyof ItemRow)[];
const BIN_CHANGES = ['code', 'place', 'container_id', 'full_mark_typed', 'full_mark_ug'] as const;

const RESTORERS: Readonly<Record<string, Restorer>> = {
  grade: {
    find: ({ db }, id) => fieldsOf(findGrade(db, id)),
    save: (ledger, id, row) => void saveGrade(ledger, id, withoutId<Insertable<GradeTable>>(row)),
    remove: removeGrade,
  },
  container: {
    find: ({ db }, id) => fieldsOf(findContainer(db, id)),
    save: (ledger, id, row) => void saveContainer(ledger, id, withoutId<Insertable<ContainerTable>>(row)),
    remove: removeContainer,
  },
  scale: {
    find: ({ db }, id) => fieldsOf(findScale(db, id)),
    save(ledger, id, row) {
      const { added_on: _, ...scale } = withoutId<Insertable<ScaleTable>>(row);
      saveScale(ledger, id, scale);
    },
    remove: removeScale,
  },
  yard: {
    find: ({ db }, id) => fieldsOf(findYard(db, id)),
    save: (ledger, id, row) => void saveYard(ledger, id, withoutId<Insertable<YardTable>>(row)),
    remove: removeYard,
  },
  yard_scale: {
    find: ({ db }, id) => {
      const scale = findYardScale(db, id);
      return scale === undefined ? undefined : yardScaleFields(scale);
    },
    save(ledger, id, row) {
      const families = String(row.families ?? '').split(', ') as GradeFamily[];
      const input = { ...row, families: families.filter((family) => family.length > 0) } as unknown as YardScaleInput;
      saveYardScale(ledger, row.yard_id as number, id, {
        name: input.name,
        division: input.division,
        class: input.class,
        families: input.families,
      });
    },
    remove: (ledger, id) => removeYardScale(ledger, yardScaleOf(ledger, id)),
  },
  item: {
    find: ({ db }, id) => fieldsOf(findItem(db, id)),
    save(ledger, id, row) {
      const item = Object.fromEntries(ITEM_COLUMNS.map((name) => [name, row[name]])) as unknown as ItemRow;
      // Its number is written on it, so it comes back under the same one.
      if (id === null) addItem(ledger, item, row.id as number);
      else changeItem(ledger, id, item, 'put an item back as it was');
    },
    remove: removeItem,
  },
  item_kind: {
    find({ db }, id) {
      const kind = findItemKind(db, id);
      return kind === undefined ? undefined : itemKindFields(kind);
    },
    save: (ledger, id, row) => void saveItemKind(ledger, id, itemKindOfFields(row)),
    remove: removeItemKind,
  },
  wire_kind: {
    find: wireKindFields,
    save: (ledger, id, row) => void saveWireKind(ledger, id, withoutId<Insertable<WireKindTable>>(row)),
    remove: removeWireKind,
  },
  bin: {
    find: ({ db }, id) => fieldsOf(findBin(db, id)),
    save(ledger, id, row) {
      if (id === null) addBin(ledger, withoutId<Insertable<BinTable>>(row));
      else changeBin(ledger, id, Object.fromEntries(BIN_CHANGES.map((name) => [name, row[name]])));
    },
    remove: removeBin,
  },
};

/** Puts one row of the set-up back as a line of the trail says it was. */
export function restoreSetUp(ledger: Ledger, event: TrailEvent, change: FieldsChange): void {
  const { document_kind: kind, document_id: id } = event;
  try {
    // A part that is refused must leave nothing behind, also where the refusal is told and not thrown on.
    ledger.db.savepoint(() => {
      if (kind === 'setting') restoreSettings(ledger, change);
      else if (kind === 'yard_grade') restoreNames(ledger, id, change);
      else {
        if (change.after !== null && isIdGivenAgain(ledger.db, event.id, kind, [id, id])) throw goneSince();
        restoreRow(ledger, RESTORERS[kind], id, change);
      }
    });
  } catch (error) {
    if (!isStillNamed(error)) throw error;
    throw new Refusal('changed_since', '', 'Something that belongs to it is gone since. Put that back first.');
  }
}

function restoreRow(ledger: Ledger, restorer: Restorer | undefined, id: number, { before, after }: FieldsChange): void {
  if (restorer === undefined) throw new Refusal('not_taken_back', '', 'This cannot be put back from here.');
  if (after === null) {
    restorer.save(ledger, null, before ?? {});
    return;
  }
  const now = restorer.find(ledger, id);
  if (now === undefined) throw goneSince();
  if (before !== null) {
    if (changeBetween(now, { ...now, ...before }) === null) {
      throw new Refusal('changed_since', '', 'It is as it was before this already, so nothing was changed.');
    }
    refuseChanged(now, after);
    restorer.save(ledger, id, { ...now, ...before });
    return;
  }
  restorer.remove(ledger, id);
}

const goneSince = (): Refusal =>
  new Refusal('changed_since', '', 'It was removed since, so there is nothing to put back.');

/** What was changed once more cannot be put back by the older line. */
function refuseChanged(now: Fields, after: Fields): void {
  if (changeBetween(now, after) === null) return;
  const say = 'It was changed again since. Put the newer change back first, or change it by hand.';
  throw new Refusal('changed_since', '', say);
}

function restoreSettings(ledger: Ledger, { before, after }: FieldsChange): void {
  const now: Fields = { ...ledger.settings };
  refuseChanged(now, after ?? {});
  changeSettings(ledger, { ...ledger.settings, ...before } as Settings);
}

function restoreNames(ledger: Ledger, yardId: number, { before, after }: FieldsChange): void {
  const now = Object.fromEntries([...yardGradeNames(ledger.db, yardId)].map(([id, name]) => [String(id), name]));
  refuseChanged(now, after ?? {});
  const names = Object.entries(before ?? {}).map(
    ([id, name]) => [Number.parseInt(id, 10), String(name ?? '')] as const,
  );
  nameGradesAtYard(ledger, yardId, new Map(names));
}
