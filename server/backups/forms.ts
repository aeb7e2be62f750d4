import type { Reader } from '../reading.ts';
import { readFolder } from './folder.ts';

/** The folder for backups as it was typed; '' for Tarebook's own. A problem with it is noted in the reader. */
export const readBackupFolder = (reader: Reader, own: string): string =>
  reader.take('folder', readFolder(reader.raw('folder'), own));
