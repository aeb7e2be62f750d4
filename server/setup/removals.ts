import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import { isStillNamed } from '../db/trouble.ts';
import type { Fields } from '../history/change.ts';
import { Refusal } from '../refusal.ts';
import { noteSetUp } from './change-notes.ts';
import {
  deleteContainer,
  deleteGrade,
  deleteScale,
  deleteYard,
  findContainer,
  findGrade,
  findScale,
  findYard,
} from './queries.ts';

/** How a kind of row is found and deleted, and what may hold it. */
interface Removable {
  kind: 'grade' | 'container' | 'scale' | 'yard';
  find(db: Db, id: number): { name: string } | undefined;
  remove(db: Db, id: number): void;
  /** What stands against it, in words. */
  heldBy: string;
}

/**
 * Removes a row that was added by mistake. Whether anything uses it is for the database's own keys to say, so that no
 * use is forgotten here.
 */
const removal =
  ({ kind, find, remove, heldBy }: Removable) =>
  (ledger: Ledger, id: number): void => {
    const { db } = ledger;
    db.transaction(() => {
      const row = find(db, id);
      if (row === undefined) throw new Refusal('not_found', '', `There is no such ${kind}.`);
      try {
        db.savepoint(() => remove(db, id));
      } catch (error) {
        if (!isStillNamed(error)) throw error;
        throw new Refusal('in_use', '', `${row.name} stays, because it is in use: ${heldBy}.`);
      }
      noteSetUp(ledger, { kind, id, name: row.name, before: { ...row } as Fields, after: null });
    });
  };

export const removeGrade = removal({
  kind: 'grade',
  find: findGrade,
  remove: deleteGrade,
  heldBy: 'a bin, a price, a ticket, a yard’s own name, a kind of item or wire or another grade has it',
});
export const removeContainer = removal({
  kind: 'container',
  find: findContainer,
  remove: deleteContainer,
  heldBy: 'a bin or a weighing has it',
});
export const removeScale = removal({
  kind: 'scale',
  find: findScale,
  remove: deleteScale,
  heldBy: 'a bin, a weighing or a check has it',
});
export const removeYard = removal({
  kind: 'yard',
  find: findYard,
  remove: deleteYard,
  heldBy: 'it has prices, manifests, names for grades or further scales',
});
