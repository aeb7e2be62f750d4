import { closeSync, mkdtempSync, openSync, readSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const removeFolder = (folder: string): void => rmSync(folder, { recursive: true, force: true });

/**
 * Where the files of one form wait until all of them have been read, for this account alone and until close. Ten papers
 * of 12 MB each are then never in memory together. Each file loses its name as soon as it is open, so that the system
 * itself takes it away when the server is cut off, and nothing piles up.
 */
export class Aside {
  readonly #open: number[] = [];
  readonly #folders: string[] = [];

  /** Sets bytes aside. @returns what reads them back, until close */
  put(bytes: Uint8Array): () => Uint8Array {
    const file = this.#nameless();
    writeFileSync(file, bytes);
    return () => {
      const read = new Uint8Array(bytes.length);
      if (readSync(file, read, 0, read.length, 0) < read.length) throw new Error('a file set aside was cut short');
      return read;
    };
  }

  #nameless(): number {
    const folder = mkdtempSync(join(tmpdir(), 'tarebook-files-'));
    this.#folders.push(folder);
    const file = openSync(join(folder, 'file'), 'wx+', 0o600);
    this.#open.push(file);
    try {
      removeFolder(folder);
    } catch {
      // Where a system keeps the name of an open file, it goes on close.
    }
    return file;
  }

  close(): void {
    for (const file of this.#open.splice(0)) closeSync(file);
    for (const folder of this.#folders.splice(0)) removeFolder(folder);
  }
}
