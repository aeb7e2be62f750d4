import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/**
 * Where the files of one form wait until all of them have been read: a temporary folder for this account alone, removed
 * on close. Ten papers of 12 MB each are then never in memory together.
 */
export class Aside {
  readonly #folder = mkdtempSync(join(tmpdir(), 'tarebook-files-'));
  #count = 0;

  /** Sets bytes aside. @returns what reads them back, until close */
  put(bytes: Uint8Array): () => Uint8Array {
    this.#count += 1;
    const path = join(this.#folder, String(this.#count));
    writeFileSync(path, bytes, { mode: 0o600 });
    return () => readFileSync(path);
  }

  close(): void {
    rmSync(this.#folder, { recursive: true, force: true });
  }
}
