import type { Ledger } from '../context.ts';
import { noteEvent } from '../trail.ts';
import { chosenFolder, storeChosenFolder } from './queries.ts';

/** Has backups go to a folder of the person's choice from now on. @param folder '' for Tarebook's own */
export function chooseBackupFolder(ledger: Ledger, folder: string): void {
  ledger.db.transaction(() => {
    const before = chosenFolder(ledger.db);
    if (folder === before) return;
    storeChosenFolder(ledger.db, folder);
    const said = (each: string) => (each === '' ? 'Tarebook’s own' : each);
    const detail = `${said(before)} → ${said(folder)}`;
    noteEvent(ledger, 'chose the folder for backups', 'setting', 0, { detail });
  });
}
