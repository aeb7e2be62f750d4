import { spawnSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

// Small disks to fill and to lock: tmpfs, which Linux lets the administrator alone mount.

const mount = (...args: string[]): boolean => spawnSync('mount', args).status === 0;

/** A disk of its own in a folder of its own. */
export class SmallDisk {
  readonly folder: string;
  readonly #filler: string;

  /** @param megabytes how much fits; null for an ordinary folder, where nothing can be mounted */
  constructor(megabytes: number) {
    this.folder = mkdtempSync(join(tmpdir(), 'tarebook-disk-'));
    this.#filler = join(this.folder, 'filler');
    if (!mount('-t', 'tmpfs', '-o', `size=${megabytes}m`, 'tmpfs', this.folder)) throw new Error('nothing was mounted');
  }

  /** Fills the disk but for so many blocks of 4 kB. */
  fill(blocksLeft = 0): void {
    const file = openSync(this.#filler, 'a');
    const block = Buffer.alloc(4096, 1);
    try {
      for (;;) writeSync(file, block);
    } catch (error) {
      if ((error as { code?: string }).code !== 'ENOSPC') throw error;
    } finally {
      closeSync(file);
    }
    const size = Number(spawnSync('stat', ['-c', '%s', this.#filler], { encoding: 'utf8' }).stdout);
    spawnSync('truncate', ['-s', String(Math.max(0, size - blocksLeft * 4096)), this.#filler]);
  }

  makeRoom(): void {
    rmSync(this.#filler, { force: true });
  }

  /** Nothing on it can be changed from now on, whoever asks. */
  lock(): void {
    if (!mount('-o', 'remount,ro', this.folder)) throw new Error('the disk is in use');
  }

  remove(): void {
    spawnSync('umount', ['-l', this.folder]);
    rmSync(this.folder, { recursive: true, force: true });
  }
}

/** Whether small disks can be had here. */
export function canMount(): boolean {
  try {
    new SmallDisk(1).remove();
    return true;
  } catch {
    return false;
  }
}

/** For the name of a test that does not run where none can be had. */
export const WITH_SMALL_DISKS = canMount()
  ? ''
  : ' (not tried here: only Linux’s administrator may mount a small disk)';
