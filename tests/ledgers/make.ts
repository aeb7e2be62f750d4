import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { brotliCompressSync } from 'node:zlib';
import { openDb } from '../../server/db/open.ts';
import { fillWhole } from './fill.ts';

// Makes the ledger of the newest format for the repository: `./node_modules/.bin/node tests/ledgers/make.ts`. One that
// is there already is never made anew: it is what that version wrote.

const folder = mkdtempSync(join(tmpdir(), 'tarebook-ledger-'));
const file = join(folder, 'ledger.sqlite');
const db = openDb(file);
await fillWhole(db);
const version = db.sqlite.pragma('user_version', { simple: true }) as number;
// One plain file: nothing beside it, and no room left over in it.
db.sqlite.pragma('journal_mode = DELETE');
db.sqlite.exec('VACUUM');
db.close();
const target = fileURLToPath(new URL(`${String(version).padStart(4, '0')}.sqlite.br`, import.meta.url));
const isThere = existsSync(target);
if (isThere) console.error(`There is a ledger of format ${version} already, and it stays as it is.`);
else writeFileSync(target, brotliCompressSync(readFileSync(file)));
rmSync(folder, { recursive: true });
process.exitCode = isThere ? 1 : 0;
