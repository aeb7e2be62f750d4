import { statSync } from 'node:fs';
import { dirname } from 'node:path';
import { isDamage, LedgerFileError, troubleOf } from './trouble.ts';

/** Which file stands under a name, or null for none. */
function fileAt(path: string): string | null {
  const found = statSync(path, { throwIfNoEntry: false });
  return found === undefined ? null : `${found.dev} ${found.ino}`;
}

const MOVED =
  'The ledger file was moved, replaced or deleted while Tarebook ran, so nothing was saved. On the computer, stop ' +
  'Tarebook, put the file back in its place, and start it again.';

/**
 * Stands before every write to a ledger's file. A file that was moved away can still be written to, and what is written
 * is gone with it; a damaged one gets worse. Both would be a "saved" that is none, so both refuse until the next start.
 */
export class FileWatch {
  readonly #opened: readonly (readonly [path: string, file: string])[];
  readonly #folder: string;
  /** When something in the folder last got, lost or changed its name, as far as the files were looked at. */
  #lookedAt: number | undefined;
  #damage: unknown = null;

  /** @param file path of a ledger that is open and was read from, so that the log beside it is there too */
  constructor(file: string) {
    this.#opened = [file, `${file}-wal`].flatMap((path) => {
      const found = fileAt(path);
      return found === null ? [] : [[path, found] as const];
    });
    this.#folder = dirname(file);
  }

  /**
   * Throws when nothing may be written any more. The folder is asked, and the files only when a name in it changed: a
   * log whose own times are asked for before each write takes a quarter longer to be flushed, because Linux then has to
   * note the time of every single write.
   */
  refuseWrites(): void {
    if (this.#damage !== null) throw this.#damage;
    const changed = statSync(this.#folder, { throwIfNoEntry: false })?.mtimeMs;
    if (changed !== undefined && changed === this.#lookedAt) return;
    if (this.#opened.some(([path, file]) => fileAt(path) !== file)) throw new LedgerFileError(MOVED);
    this.#lookedAt = changed;
  }

  /** Remembers an error that says the file is damaged, and tells whoever looks after the computer, once. */
  note(error: unknown): void {
    if (this.#damage !== null || !isDamage(error)) return;
    this.#damage = error;
    console.error(troubleOf(error));
  }
}
